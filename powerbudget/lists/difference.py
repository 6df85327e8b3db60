"""What changed between two revisions of a list: tags, loads, watts."""

from __future__ import annotations

import re
from dataclasses import dataclass

from powerbudget.quantities import plain

_WATTS = re.compile(r"([\d.e+-]+) W\b(?! maximum)")


@dataclass(frozen=True)
class Difference:
    """Tags and loads of two revisions.

    Parameters
    ----------
    added, deleted, unchanged
        Names that are new, gone, or the same [text].
    changed
        Name to what it was and is [text].
    renamed
        New name to the old one [text].
    before_w, after_w
        Sum of the stated watts (typical, or running for loads) [W].
    """

    added: tuple[str, ...]
    deleted: tuple[str, ...]
    changed: dict[str, tuple[str, str]]
    unchanged: tuple[str, ...]
    renamed: dict[str, str]
    before_w: float
    after_w: float

    @property
    def empty(self) -> bool:
        """Whether nothing changed."""
        return not (self.added or self.deleted or self.changed or self.renamed)

    def lines(self) -> list[str]:
        """Return the difference as lines for a person [text]."""
        out = []
        for name, tags in (("added", self.added), ("deleted", self.deleted)):
            if tags:
                more = f" and {len(tags) - 8:,} more" if len(tags) > 8 else ""
                out.append(f"{name}: {', '.join(tags[:8])}{more}")
        out += [
            f"renamed: {old} -> {new}" for new, old in list(self.renamed.items())[:8]
        ]
        out += [
            f"changed: {k} ({a} -> {b})" for k, (a, b) in list(self.changed.items())[:8]
        ]
        if len(self.changed) > 8:
            out.append(f"changed: {len(self.changed) - 8:,} more")
        out.append(
            f"stated watts: {plain(self.before_w, 3, 'W')} -> {plain(self.after_w, 3, 'W')}"
        )
        return out


def difference(
    before: dict[str, str], after: dict[str, str], renamed: dict[str, str] | None = None
) -> Difference:
    """Return what changed from one snapshot of a list to the next.

    Parameters
    ----------
    before, after
        Name to what it is, as `powerbudget.lists.mapping.snapshot` gives it [text].
    renamed
        New tag to old tag, as the list's remarks state it [text].

    Examples
    --------
    >>> d = difference({"A": "1 AI", "B": "1 DI"}, {"A": "1 AI", "C": "1 DI"})
    >>> d.added, d.deleted, d.changed
    (('C',), ('B',), {})
    """
    pairs = {
        new: old
        for new, old in (renamed or {}).items()
        if old in before and new in after and old not in after
    }
    gone = set(pairs.values())
    return Difference(
        added=tuple(k for k in after if k not in before and k not in pairs),
        deleted=tuple(k for k in before if k not in after and k not in gone),
        changed={
            k: (before[k], after[k])
            for k in after
            if k in before and before[k] != after[k]
        },
        unchanged=tuple(k for k in after if before.get(k) == after[k]),
        renamed=pairs,
        before_w=_watts(before),
        after_w=_watts(after),
    )


def _watts(found: dict[str, str]) -> float:
    total = 0.0
    for text in found.values():
        match = _WATTS.search(text)
        total += float(match.group(1)) if match else 0.0
    return total
