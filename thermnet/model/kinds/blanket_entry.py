"""What the file says of a multilayer blanket: an effective emittance, or what it is made of."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from thermnet.model.kinds.blanket_spoilt import Fixing, Opening, Seam
from thermnet.model.kinds.material import MadeOf
from thermnet.model.kinds.separator import SEPARATORS
from thermnet.model.kinds.venting import Venting
from thermnet.text.fields import Entry, Text, count, fault, name_of, number, quantity

Share = Annotated[float, number(above=0, below=1)]
HowMany = Annotated[int, count(at_least=1)]
Emittance = Annotated[float, number(above=0, at_most=1)]

OF_AN_IDEAL_STACK = ("other_side", "covered", "outer")
OF_A_SEPARATOR = ("compressed",)
OF_LAYERS = ("emittance", *OF_AN_IDEAL_STACK, "separator", *OF_A_SEPARATOR)
"""Keys of `layers` that say what they let through, and not only how many they are."""


class Compressed(Entry):
    """Part of a blanket whose layers lie closer, as at folds and beneath fixings."""

    share: Share = Field(description="share of the area, openings left out")
    density: Annotated[float, quantity("1/m", above=0)] = Field(
        description="layers to a thickness there"
    )
    note: Text = Field("", description="where the numbers come from")


class Layers(Entry):
    """The layers between the covered surface and the outer layer, which do not count."""

    count: HowMany = Field(description="number of layers")
    emittance: Emittance | None = Field(
        None,
        description="emittance of both sides of the layers, or of the inward one, at room "
        "temperature; with a separator by default that for which its formula was fitted",
    )
    other_side: Emittance | None = Field(
        None, description="emittance of the outward side, where it is not the same"
    )
    covered: Emittance | None = Field(
        None,
        description="emittance of the covered surface; by default that of the outward side",
    )
    outer: Emittance | None = Field(
        None,
        description="emittance of the outer layer on its inward side; by default `emittance`",
    )
    separator: Annotated[str, name_of("separators", also=SEPARATORS)] | None = Field(
        None, description="what keeps the layers apart, whose published formula is used"
    )
    density: Annotated[float, quantity("1/m", above=0)] | None = Field(
        None, description="layers to a thickness"
    )
    thickness: Annotated[float, quantity("m", above=0)] | None = Field(
        None, description="of all layers together, instead of the density"
    )
    compressed: dict[str, Compressed] = Field(
        {}, description="shares of the area where the layers lie closer"
    )

    @model_validator(mode="after")
    def _one_form(self) -> Layers:
        if self.density is not None and self.thickness is not None:
            raise fault("thickness", "given beside 'density', from which it follows: drop one")
        if self.separator is not None:
            return self._with_separator()
        if self.compressed:
            raise fault(
                "compressed",
                "what lets more through where it is compressed is the separator: name a "
                "'separator', or use the 'factor' of the blanket",
            )
        if self.emittance is None and self.other_side is not None:
            raise fault("emittance", "missing key 'emittance': that of the inward side of a layer")
        return self

    def _with_separator(self) -> Layers:
        for key in OF_AN_IDEAL_STACK:
            if getattr(self, key) is not None:
                raise fault(
                    key, "has no place in the formula of a separator, which takes one 'emittance'"
                )
        if self.per_length is None:
            raise fault(
                "density",
                "missing key 'density' or 'thickness': the formula of the separator goes with it",
            )
        for name, part in self.compressed.items():
            if part.density <= self.per_length:
                raise fault(
                    f"compressed.{name}.density",
                    f"must lie above that of the layers, {self.per_length:g} 1/m: compressed "
                    "layers lie closer",
                )
        shares = sum(part.share for part in self.compressed.values())
        if shares >= 1.0:
            raise fault(
                "compressed", f"the shares sum to {shares:g}: what is compressed is less than all"
            )
        return self

    @property
    def per_length(self) -> float | None:
        """Layers to a thickness [1/m], None where nothing says so."""
        return self.count / self.thickness if self.thickness is not None else self.density


class Bounds(Entry):
    """How far all that is not stated by an effective emittance may be off."""

    low: Annotated[float, number(above=0, at_most=1)] = Field(
        description="multiplies it in cases with blankets at their lower bound"
    )
    high: Annotated[float, number(at_least=1)] = Field(
        description="multiplies it in cases with blankets at their upper bound"
    )


class Blanket(Entry):
    """A blanket between the surface that it covers and its own outer face.

    The outer face is a node of its own, which radiates onwards by its own surface: an effective
    emittance that already includes the outer face would count it twice.
    """

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(description="covered node")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="outer face")
    area: Annotated[float, quantity("m^2", above=0)] = Field(description="covered area")
    effective_emittance: Emittance | None = Field(
        None,
        description="blanket heat flow over area x sigma (T_from^4 - T_to^4), nominal; or it "
        "follows from the layers",
    )
    low: Emittance | None = Field(None, description="lower bound of the effective emittance")
    high: Emittance | None = Field(None, description="upper bound of the effective emittance")
    use: Literal["nominal", "low", "high"] = Field(
        "nominal", description="which bound is used; a case sets it"
    )
    layers: Layers | None = Field(
        None,
        description="what it is made of, instead of an effective emittance; beside one, as much as "
        "the gas between the layers needs",
    )
    factor: Annotated[float, number(above=0)] = Field(
        1.0,
        description="multiplies what the layers and their separators let through, instead of terms "
        "of their own for what spoils them",
    )
    scale: Annotated[float, number(above=0)] = Field(
        1.0,
        description="multiplies all terms but the gas: one number for the quality of the whole "
        "blanket, as a study changes it",
    )
    bounds: Bounds | None = Field(
        None, description="bounds of all terms but an effective emittance and the gas"
    )
    seams: dict[str, Seam] = Field({}, description="seams and edges")
    fixings: dict[str, Fixing] = Field(
        {}, description="stitches, pins, fasteners, stand-offs, cables and other feed-throughs"
    )
    openings: dict[str, Opening] = Field({}, description="bare patches and gaps")
    made_of: MadeOf | None = Field(
        None, description="materials, held to the temperatures that they may be used at"
    )
    venting: Venting | None = Field(None, description="how trapped gas gets out during ascent")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _in_order(self) -> Blanket:
        wrong = next((each for of in (self._ends, self._form, self._limits) for each in of()), None)
        if wrong is not None:
            raise wrong
        return self

    def _ends(self) -> Iterator[PydanticCustomError]:
        """What is wrong with where it leads, and over how much of the area."""
        if self.from_ == self.to:
            yield fault("to", f"joins '{self.to}' to itself")
        for name, seam in self.seams.items():
            if seam.to == self.from_:
                yield fault(f"seams.{name}.to", f"joins '{seam.to}' to itself")
        for name, fixing in self.fixings.items():
            if fixing.to == self.from_:
                yield fault(f"fixings.{name}.to", f"joins '{fixing.to}' to itself")
        for name, opening in self.openings.items():
            if opening.to == self.from_:
                yield fault(f"openings.{name}.to", f"joins '{opening.to}' to itself")
        if (open_share := 1.0 - self.closed_area / self.area) >= 1.0:
            yield fault("openings", f"take {open_share:.4g} of the area: something must be covered")

    def _form(self) -> Iterator[PydanticCustomError]:
        """What is wrong with how it is stated: by an effective emittance, or by layers."""
        layers = self.layers
        if self.effective_emittance is not None:
            if self.factor != 1.0:
                yield fault(
                    "factor", "multiplies what layers let through, not 'effective_emittance'"
                )
            given = [key for key in OF_LAYERS if layers is not None and getattr(layers, key)]
            if given:
                yield fault(
                    f"layers.{given[0]}",
                    f"the layers' '{given[0]}' and 'effective_emittance' both say what the layers "
                    "let through: a blanket states one of them",
                )
        elif layers is None:
            yield fault(
                "effective_emittance", "missing key 'effective_emittance': give it, or its 'layers'"
            )
        elif layers.emittance is None and layers.separator is None:
            yield fault(
                "layers.emittance",
                "missing key 'emittance', of an ideal stack, or 'separator': they say what the "
                "layers let through",
            )

    def _limits(self) -> Iterator[PydanticCustomError]:
        """What is wrong with its bounds, and with the one in use."""
        stated = self.effective_emittance
        if stated is None:
            for key in ("low", "high"):
                if getattr(self, key) is not None:
                    yield fault(key, "bounds an 'effective_emittance': layers take 'bounds'")
            if self.use != "nominal" and self.bounds is None:
                yield fault("use", f"this blanket states no '{self.use}' bound: give it 'bounds'")
            return
        if self.low is not None and self.low > stated:
            yield fault("low", "the lower bound lies above the nominal effective emittance")
        if self.high is not None and self.high < stated:
            yield fault("high", "the upper bound lies below the nominal effective emittance")
        if self.used is None:
            yield fault("use", f"this blanket states no '{self.use}' bound")
        spoilt = self.seams or self.fixings or self.openings
        if self.use != "nominal" and spoilt and self.bounds is None:
            yield fault(
                "use",
                f"this blanket states no '{self.use}' bound of its seams, fixings and openings: "
                "give it 'bounds'",
            )
        if self.bounds is not None and not spoilt:
            yield fault(
                "bounds", "bound nothing here: those of an effective emittance are 'low' and 'high'"
            )

    @property
    def used(self) -> float | None:
        """The effective emittance that the case uses, None where that bound is not stated."""
        return {"nominal": self.effective_emittance, "low": self.low, "high": self.high}[self.use]

    @property
    def bound(self) -> float:
        """`scale`, times what the case multiplies all but an effective emittance and the gas by."""
        if self.bounds is None or self.use == "nominal":
            return self.scale
        return self.scale * (self.bounds.low if self.use == "low" else self.bounds.high)

    @property
    def closed_area(self) -> float:
        """Area [m2] that the layers cover, openings left out."""
        return self.area - sum(self.open_area(name) for name in self.openings)

    def open_area(self, name: str) -> float:
        """Area [m2] of an opening."""
        opening = self.openings[name]
        return opening.area if opening.area is not None else self.area * (opening.share or 0.0)

    @property
    def gas_thickness(self) -> float | None:
        """Thickness [m] of all layers together, None where nothing says so."""
        if self.layers is None or self.layers.per_length is None:
            return None
        return self.layers.count / self.layers.per_length
