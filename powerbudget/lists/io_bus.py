"""Which rows of a signal list are registers of one device on a bus.

A device on a port has one address; its flow, total and temperature stand on a row each.
Rows are one device that share the address, else the device that a column names, else
the tag.
"""

from __future__ import annotations

from collections.abc import Hashable

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Columns, ListColumn
from powerbudget.lists.row_cells import cell_at, text_of
from powerbudget.lists.words import concepts, folded, word_set, words_of

_REGISTER = word_set("register registers reg regs coil modbus")
_NAMING = ("name", "text", "group", "other", "", "item")


def _registers(column: ListColumn) -> bool:
    """Return whether the head of a column speaks of registers of a bus."""
    aside = column.field in {"node", "protocol", "io_type", "signal"}
    aside = aside or column.field.startswith("count:")
    return not aside and bool(_REGISTER & set(words_of(column.head.text)))


def is_register_map(columns: Columns) -> bool:
    """Return whether a table lists registers of devices without any kind of signal."""
    told = columns.of("io_type", "signal") or columns.counts()
    return not told and any(map(_registers, columns.all))


class BusDevices:
    """Remembers the devices on a bus whose rows were read.

    Parameters
    ----------
    columns
        Columns of the table.
    """

    def __init__(self, columns: Columns) -> None:
        self._node = [c.index for c in columns.of("node") if c.filled]
        self._port = [c.index for c in columns.of("port", "protocol")]
        self.registers = any(map(_registers, columns.all))
        named = [c for c in columns.all if self.registers and _names_devices(c)]
        self._device = [c.index for c in named if c.filled]
        self._first: dict[Hashable, int] = {}
        self.unsure: dict[int, str] = {}

    def first(self, row: Row, tag: str, number: int) -> int:
        """Return the row where the device of a row stands first.

        Rows of registers under tags of their own are kept in ``unsure``.
        """
        for name, indexes in (("node", self._node), ("device", self._device)):
            said = [text_of(cell_at(row, k)) for k in indexes]
            if any(said):
                port = [text_of(cell_at(row, k)) for k in self._port]
                own = tuple(port) if name == "node" else ()
                return self._first.setdefault((name, *said, *own), number)
        first = self._first.setdefault(("tag", folded(tag)), number) if tag else number
        if first != number:
            self.unsure.pop(first, None)
        elif self.registers:
            self.unsure[number] = tag
        return first


def _names_devices(column: ListColumn) -> bool:
    """Return whether a column names the device to which a register belongs."""
    words = [w for w in words_of(column.head.text) if w not in {"signal", "point"}]
    said = concepts(words)
    return column.field in _NAMING and "device" in said and "text" not in said
