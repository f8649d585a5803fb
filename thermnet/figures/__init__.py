"""Figures in greys for print: margins, histories, network diagram. The room of matplotlib."""
