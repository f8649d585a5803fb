"""The files beside a model: only those within its folder, each read at most once, and kept."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from thermnet.errors import Problem, nearest
from thermnet.text.tree import decode

_KINDS = frozenset({".csv", ".npz", ".yaml", ".yml"})
"""Endings of the files that a model may name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """The files beside a model.

    `folder` holds the model, `model` is its name as places show it, `texts` collects what is read
    by shown name: a text as it is, arrays in base64, so that a model is texts and nothing else.
    """

    folder: Path | None
    model: str
    texts: dict[str, str]

    def of_part(self, name: str) -> Files:
        """The files beside a part, which is one of these files: within the folder that it is in."""
        folder = None if self.folder is None else self.folder.joinpath(name).parent
        return Files(folder=folder, model=self._shown(name), texts=self.texts)

    def read(self, name: str) -> tuple[str, str]:
        """The shown name and the text of a side file. Raises ValueError with a sentence."""
        shown = self._shown(name)
        if shown not in self.texts:
            text = decode(self._content(name), shown)
            if isinstance(text, Problem):
                raise ValueError(f"{text.place}: {text.message}")
            self.texts[shown] = text
        return shown, self.texts[shown]

    def read_bytes(self, name: str) -> bytes:
        """The content of a file of arrays. Raises ValueError with a sentence."""
        shown = self._shown(name)
        if shown in self.texts:
            return base64.b64decode(self.texts[shown])
        content = self._content(name)
        self.texts[shown] = base64.b64encode(content).decode("ascii")
        return content

    def _shown(self, name: str) -> str:
        return str(PurePosixPath(self.model).parent / name)

    def _content(self, name: str) -> bytes:
        try:
            return self._inside(name).read_bytes()
        except OSError as error:
            raise ValueError(f"cannot read '{name}': {error.strerror}") from None

    def _inside(self, name: str) -> Path:
        """The path of a side file, which must be a file within the model's folder."""
        if self.folder is None:
            raise ValueError("a side file needs a model that is read from a folder")
        parts = PurePosixPath(name).parts
        if name.startswith("/") or ".." in parts or any(mark in name for mark in "\\:\0"):
            raise ValueError(f"'{name}' must be a file within the model's folder, named from there")
        path = self.folder.joinpath(*parts)
        if not path.resolve().is_relative_to(self.folder.resolve()):
            raise ValueError(f"'{name}' leads out of the model's folder")
        if not path.is_file():
            kind = path.suffix.lower() if path.suffix.lower() in _KINDS else ".csv"
            beside = [*self.folder.glob(f"*{kind}"), *self.folder.glob(f"*/*{kind}")]
            hint = nearest(name, [each.relative_to(self.folder).as_posix() for each in beside])
            raise ValueError(f"no file '{name}' beside the model{hint}")
        return path
