"""From lists to a site file: tables that read back, the mapping, the verb."""

from __future__ import annotations

import json
import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from powerbudget.errors import InputError
from powerbudget.lists.importer import read_lists
from powerbudget.lists.library import proposal
from powerbudget.lists.mapping import mapping_text, read_mapping, snapshot
from powerbudget.lists.site_text import list_path, site_text
from powerbudget.report.sections.lists import lists_section
from powerbudget.report.sections.sources import Sources
from powerbudget.site.parts import DevicePart, load_parts
from powerbudget.site.reader import read_site_text
from powerbudget.site.starter import starter_text

SIGNALS = """Tag,Service,I/O type,Supply,Load (W),Normal state
PT-1,Pressure,AI,2-wire,,
AT-2,Detector,AI,4-wire,4,
AT-3,Analyzer,AI,4-wire,,
XY-4,Main valve,DO,,6,energized
XY-5,Vent valve,DO,,7,de-energized
ZS-6,Door,DI,,,NC
SPARE,,DI,,,
"""
LOADS = """Equipment,Volts,Qty,W each,Hours/day
Radio,12,1,5,24
Camera,24,2,4,12
Inverter fan,230 VAC,1,20,6
Odorizer,12,1,TBC,24
"""


def frame(bus: str = "12 V") -> str:
    """Return the example site without its loads."""
    text = re.sub(r"(?ms)^\[\[(?:load|supply)\]\]\n.*?(?=^\[)", "", starter_text())
    return text.replace('nominal = "12 V"', f'nominal = "{bus}"', 1)


@pytest.fixture
def lists(tmp_path):
    """Return a signal list and a schedule."""
    (tmp_path / "io.csv").write_text(SIGNALS, encoding="utf-8")
    (tmp_path / "loads.csv").write_text(LOADS, encoding="utf-8")
    return [tmp_path / "io.csv", tmp_path / "loads.csv"]


def test_tables_read_back_with_the_same_watts(lists, tmp_path):
    """What is written reads back: the same watts, hours and sources, no load twice."""
    found = read_lists(lists)
    written = site_text(found, "site-io.csv", bus_v=12.0)
    (tmp_path / "site-io.csv").write_text(written.list_text, encoding="utf-8")
    design = read_site_text(frame() + "\n" + written.text, tmp_path / "site.toml")
    loads = {x.name: x for x in design.tables.load}
    radio = next(x for n, x in loads.items() if n.startswith("Radio"))
    camera = next(x for n, x in loads.items() if n.startswith("Camera"))
    assert radio.typical == ("W", 5.0)
    assert camera.typical == ("W", 8.0)
    assert camera.duty_frac == pytest.approx(0.5)
    assert camera.supply == "24 V supply"
    assert radio.source == "loads.csv, row 2"
    assert loads["XY-4 Main valve"].duty_frac == 1.0
    assert loads["XY-5 Vent valve"].duty_frac == 0.0
    # An AC load stands on the dc side of an inverter that nobody described.
    fan = next(x for n, x in loads.items() if n.startswith("Inverter fan"))
    assert fan.typical[1] == pytest.approx(20 / 0.85, rel=1e-4)
    # Unknown devices are on the high side and named.
    assert any(n.startswith("AT-3") for n in loads)
    assert any(n.startswith("Odorizer") for n in loads)
    assert "Question:" in written.text
    assert design.tables.rack.io_list == "site-io.csv"


def test_the_rack_reads_the_list_that_is_written(lists, tmp_path):
    """Points of the rack's list are those of the client's list."""
    found = read_lists(lists)
    path = list_path(tmp_path / "site.toml")
    path.write_text(site_text(found, path.name).list_text, encoding="utf-8")
    again = read_lists([path])
    states = {x.tag: x.state for x in again.lines}
    assert (states["XY-4"], states["XY-5"], states["ZS-6"]) == ("on", "off", "closed")
    assert again.points() == found.points() == {"ai": 3, "do": 2, "di": 1}
    assert again.points("spare") == found.points("spare") == {"di": 1}
    assert not again.lines[1].maximum_w  # watts stand in [[load]], once


def test_mapping_is_replayed_on_the_next_revision(lists, tmp_path):
    """A corrected meaning holds on revision B, whatever the order of its columns."""
    found = read_lists(lists)
    path = tmp_path / "site-lists.toml"
    text = mapping_text(found).replace(
        '"Normal state" = "normal"', '"Normal state" = "other"'
    )
    text = text.replace("[words]", '[words]\n"hardwired" = "di"').replace(
        "out = []", 'out = ["ZS-6"]'
    )
    path.write_text(text, encoding="utf-8")
    kept = read_mapping(path)
    assert kept.last == snapshot(found)
    revision = (
        "Load (W),I/O type,Tag,Service,Supply,Normal state\n6,DO,XY-4,Main valve,,off\n"
        ",Hardwired,XA-7,Package,,\n,DI,ZS-6,Door,,\n"
    )
    (tmp_path / "b.csv").write_text(revision, encoding="utf-8")
    again = read_lists([tmp_path / "b.csv"], kept)
    assert again.points() == {"do": 1, "di": 1}
    assert again.tags() == ["XY-4", "XA-7"]
    assert again.lines[0].typical_w == 6.0  # the state column is left out


def test_a_wrong_mapping_is_refused_with_every_fault(tmp_path):
    """Unknown meanings are named, all at once, with what is allowed."""
    from powerbudget.errors import InputError

    path = tmp_path / "m.toml"
    path.write_text(
        '[[table]]\nsheet="a"\nkind="list"\n[table.columns]\n"Tag"="tga"\n[words]\n"x"="dj"\n'
    )
    with pytest.raises(InputError) as caught:
        read_mapping(path)
    said = " ".join(str(f) for f in caught.value.faults)
    assert len(caught.value.faults) == 3
    assert "tga" in said
    assert "dj" in said


def run(*args: object):
    """Run the verb and return its result."""
    from powerbudget.cli import app

    return CliRunner().invoke(app, ["import", *map(str, args)])


def test_verb_writes_json_and_files(lists, tmp_path):
    """Rows by class add up, questions are listed, three files are written."""
    site = tmp_path / "site.toml"
    result = run(*lists, "-o", site, "--yes", "--json")
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert sum(r["total"] for r in told["rows"]) == 8 + 5
    for row in told["rows"]:
        assert sum(row["by_class"].values()) == row["total"]
    assert told["points"] == {"ai": 3, "do": 2, "di": 1}
    assert any(
        q["cause"] == "no-watts" and "AT-3" in q["text"] for q in told["questions"]
    )
    assert site.is_file()
    assert (tmp_path / "site-io.csv").is_file()
    assert (tmp_path / "site-lists.toml").is_file()


def test_into_a_site_keeps_its_comments_and_checks_the_whole(lists, tmp_path):
    """--into adds the tables, keeps every line, and refuses a second import."""
    site = tmp_path / "site.toml"
    site.write_text(starter_text(), encoding="utf-8")
    result = run(*lists, "--into", site, "--yes")
    assert result.exit_code == 0, result.output
    text = site.read_text(encoding="utf-8")
    assert text.startswith(starter_text().rstrip("\n"))
    read_site_text(text, site)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    second = run(*lists, "--into", site, "--yes")
    assert second.exit_code != 0
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_nothing_is_written_over_a_file(lists, tmp_path):
    """-o refuses a file that exists; --force replaces it."""
    site = tmp_path / "site.toml"
    site.write_text("# mine\n", encoding="utf-8")
    assert run(*lists, "-o", site, "--yes").exit_code != 0
    assert site.read_text(encoding="utf-8") == "# mine\n"
    assert run(*lists, "-o", site, "--yes", "--force").exit_code == 0


def test_second_import_tells_the_difference(lists, tmp_path):
    """Added, deleted and changed tags, and the watts before and after."""
    site = tmp_path / "site.toml"
    assert run(*lists, "-o", site, "--yes").exit_code == 0
    Path(lists[0]).write_text(
        SIGNALS.replace("XY-4,Main valve,DO,,6", "XY-4,Main valve,DO,,9").replace(
            "ZS-6,Door", "ZS-8,Gate"
        )
    )
    result = run(*lists, "-o", site, "--yes", "--force", "--json")
    told = json.loads(result.stdout)["difference"]
    assert told["added"] == ["ZS-8"]
    assert told["deleted"] == ["ZS-6"]
    assert list(told["changed"]) == ["XY-4"]
    assert told["after_w"] - told["before_w"] == pytest.approx(3.0)


@pytest.fixture
def imported(lists, tmp_path):
    """Return a site file imported from both lists."""
    site = tmp_path / "site.toml"
    assert run(*lists, "-o", site, "--yes").exit_code == 0
    return site


def package_at(site):
    """Return as much of a package as the section reads."""
    return SimpleNamespace(design=SimpleNamespace(path=site))


def test_the_package_accounts_for_every_row(imported):
    """Accounts of each sheet on the page are those counted by hand, and add up."""
    section = lists_section(package_at(imported), Sources("site.toml"))
    counts, where = section.blocks
    rows = [[cell.text for cell in row.cells] for row in counts.rows]
    heads = [column.head for column in counts.columns]
    by_hand = {"rows": 8, "read": 6, "spare": 1, "ignored": 1}
    first = dict(zip(heads, rows[0], strict=True))
    assert {name: int(first[name]) for name in by_hand} == by_hand
    for row in rows:
        assert int(row[2]) == sum(int(text) for text in row[3:])
    # The spare is the last of seven rows under the head.
    assert [c.text for c in where.rows[0].cells][1:] == ["spare", "8"]


def test_without_lists_the_package_has_no_section(tmp_path):
    """A site that came from no list, or from no file, says nothing about rows."""
    for site in (None, tmp_path / "site.toml"):
        assert lists_section(package_at(site), Sources("site.toml")) is None


def test_accounts_changed_by_hand_are_refused(imported):
    """An account without its rows is told with its place in the file."""
    kept = imported.with_name("site-lists.toml")
    text = kept.read_text("utf-8")
    kept.write_text(text.replace('"spare" = {', '"spares" = {'), encoding="utf-8")
    with pytest.raises(InputError, match=r"account\[1\]"):
        lists_section(package_at(imported), Sources("site.toml"))


def test_parts_of_the_library_are_proposed_not_taken(tmp_path):
    """A row that reads like a part is asked about it, and keeps its own watts."""
    book = tmp_path / "loads.csv"
    rows = "Network switch,TBC\nNetwork switch,3\nRemote terminal unit,tbc\n"
    book.write_text("Equipment,Typical W\n" + rows, encoding="utf-8")
    text = site_text(read_lists([book]), "site-io.csv").text
    _, switch, stated, terminal = text.split("[[load]]")
    # The two switches of the library, typical and range as its file has them.
    assert "switch-unmanaged (8.3 W, 8.3 to 8.3 W)" in switch
    assert "switch-managed (10 W, 10 to 10 W)" in switch
    assert "the row states no watts" in switch
    # A row that states its watts is not asked.
    assert "parts library" not in stated
    assert 'typical = "3 W"' in stated
    assert "\npart =" not in text
    # One word of two does not do: a gas flow computer is a computer.
    assert proposal("Gas flow") == ""
    # A transmitter in a loop draws no watts of its own; a terminal unit is a controller.
    assert proposal("Pressure transmitter") == ""
    assert "controller-low-power" in terminal
    assert "satellite" not in terminal


MEANT = {
    "RTU": "controller-",
    "SPS": "controller-",
    "Netzwerk-Switch": "switch-unmanaged",
    "Funkgerät": "radio-",
    "LTE-Router": "radio-cellular-router",
    "VSAT terminal": "satellite-dish-",
    "Detector de gas": "gas-detector-",
    "Electroválvula": "solenoid-standard",
    "Schrankheizung": "enclosure-heater",
    "PTZ camera": "camera-moving",
    "Flow computer": "controller-gas-flow-computer",
    "Data logger": "controller-logger-sleeping",
}


@pytest.mark.parametrize("name", MEANT)
def test_words_of_the_trade_find_the_part(name):
    """Names that no title has are proposed what the trade means by them."""
    said = re.search(r"is it (\S+) \(", proposal(name))
    assert said
    assert said.group(1).startswith(MEANT[name])


@pytest.mark.parametrize(
    "name",
    ["Solar charge controller", "Battery charger", "Level switch", "Vent fan",
     "Temperature controller", "Cathodic protection rectifier", "Fire panel"],
)  # fmt: skip
def test_what_shares_a_word_only_is_not_proposed(name):
    """A charger is no controller, and a level switch no network switch."""
    assert proposal(name) == ""


def test_devices_without_watts_are_proposed_parts(tmp_path):
    """A four-wire device of a signal list keeps its assumed watts and names its kin."""
    book = tmp_path / "io.csv"
    rows = "AT-1,Gas detector,AI,4-wire\nPT-2,Line pressure,AI,2-wire\n"
    book.write_text("Tag,Service,I/O,Supply\n" + rows, encoding="utf-8")
    text = site_text(read_lists([book]), "site-io.csv").text
    (detector,) = text.split("[[load]]")[1:]
    assert "is it gas-detector-" in detector
    assert "6 W assumed" in detector
    assert 'typical = "6 W"' in detector
    assert "\npart =" not in text


def test_every_device_of_the_library_knows_its_own_title():
    """A row called as a part is titled is asked about that part."""
    devices = [p for p in load_parts().values() if isinstance(p, DevicePart)]
    assert len(devices) > 20
    for part in devices:
        assert part.name in proposal(part.title), part.title
    assert "states no watts" in proposal(devices[0].title)


def test_a_mapping_kept_elsewhere_is_found_again(lists, tmp_path):
    """Wherever the mapping was kept, the package accounts for rows and a revision replays it."""
    site, kept = tmp_path / "site.toml", tmp_path / "clients" / "map of lists.toml"
    kept.parent.mkdir()
    result = run(*lists, "-o", site, "--mapping", kept, "--yes")
    assert result.exit_code == 0, result.output
    section = lists_section(package_at(site), Sources("site.toml"))
    assert [row.cells[2].text for row in section.blocks[0].rows] == ["8", "5"]
    words = kept.read_text("utf-8").replace("out = []", 'out = ["ZS-6"]')
    kept.write_text(words, encoding="utf-8")
    again = run(*lists, "-o", site, "--yes", "--force", "--json")
    assert "ZS-6" not in json.loads(again.stdout)["tags"]
    # Words confirmed before go along when the mapping moves.
    moved = tmp_path / "moved.toml"
    third = run(*lists, "-o", site, "--yes", "--force", "--mapping", moved)
    assert third.exit_code == 0, third.output
    assert read_mapping(moved).out == {"zs-6"}
    moved.unlink()
    with pytest.raises(InputError, match=r"moved\.toml"):
        lists_section(package_at(site), Sources("site.toml"))


def test_watt_hours_above_the_watts_reach_the_site(tmp_path):
    """Where a sheet's Wh/day exceed 24 h of its watts, the site holds the Wh/day."""
    book = tmp_path / "loads.csv"
    book.write_text("Equipment,W,Wh/day\nRadio,5,240\nRelay,2,48\n", encoding="utf-8")
    text = site_text(read_lists([book]), "site-io.csv").text
    design = read_site_text(frame() + "\n" + text, tmp_path / "site.toml")
    radio, relay = design.tables.load
    assert radio.typical == ("W", pytest.approx(10.0))
    assert (radio.duty_frac or 1.0) == pytest.approx(1.0)
    assert relay.typical == ("W", 2.0)


def test_the_rack_is_not_asked_about_columns_that_are_not_there(lists, tmp_path):
    """A list written for a rack has no column that is empty on all its rows."""
    written = site_text(read_lists([lists[0]]), "io.csv").list_text
    heads, *rows = [line.split(",") for line in written.splitlines()]
    assert "Port" not in heads
    assert all(any(cells) for cells in zip(*rows, strict=True))
    (tmp_path / "again.csv").write_text(written, encoding="utf-8")
    again = read_lists([tmp_path / "again.csv"])
    assert "empty-column" not in {q.cause for q in again.asked}


def test_a_device_on_both_lists_is_asked(tmp_path):
    """What the signals let draw and a schedule states again is counted twice and said."""
    (tmp_path / "io.csv").write_text(
        "Tag,Service,I/O,Supply,Load (W)\nAT-1,Gas detector,AI,4-wire,\n"
        "XY-2,Vent valve,DO,,6\nPT-3,Line pressure,AI,2-wire,\n",
        encoding="utf-8",
    )
    (tmp_path / "eq.csv").write_text(
        "Tag,Equipment,W\nAT-1,Detector head,5\n,Vent valve,6\n,Line pressure,1\n"
        ",Radio,4\nPT-3,Transmitter,1\n",
        encoding="utf-8",
    )
    found = read_lists([tmp_path / "io.csv", tmp_path / "eq.csv"])
    (twice,) = [q for q in found.asked if q.cause == "device-twice"]
    names = [item.name for item in twice.items]
    # A loop is counted by the rack, whatever the list states of it.
    loop = "Transmitter / PT-3"
    assert names == ["Detector head / AT-1", "Vent valve / XY-2", loop]


@pytest.mark.parametrize(
    "rows",
    ["Tag,Type,Service,Type\nPT-1,Gauge,P,AI\nZS-2,Box,Z,DI\nXV-3,Valve,X,DO\n",
     "Tag,Service,Signal,Signal\nXV-1,V,DO,DI\nPT-2,P,AI,\n",
     "Equipment,Max,W,W,Qty\nRadio,9,4,8,2\nRelay,5,2,4,2\n"],
)  # fmt: skip
def test_a_mapping_replayed_on_its_own_list_changes_nothing(tmp_path, rows):
    """Columns of one head keep a meaning each, first import and replay alike."""
    book, kept = tmp_path / "a.csv", tmp_path / "m.toml"
    book.write_text(rows, encoding="utf-8")
    first = read_lists([book])
    kept.write_text(mapping_text(first), encoding="utf-8")
    again = read_lists([book], read_mapping(kept))
    assert again.points() == first.points()
    assert [(x.running_w, x.maximum_w) for x in again.loads] == [
        (x.running_w, x.maximum_w) for x in first.loads
    ]
    assert [q.text for q in again.asked] == [q.text for q in first.asked]


def test_totals_in_the_column_of_kinds_leave_its_meaning(tmp_path):
    """Numbers of totals under "Type" do not make it a column of figures that nobody reads."""
    book, kept = tmp_path / "a.csv", tmp_path / "m.toml"
    rows = "1,PT-1,Pressure,AI\n2,ZS-3,Open,DI\n,,Total AI,1\n,,Total DI,1\n"
    book.write_text("No,Tag,Description,Type\n" + rows, encoding="utf-8")
    first = read_lists([book])
    assert first.points() == {"ai": 1, "di": 1}
    assert "unread-column" not in {q.cause for q in first.asked}
    kept.write_text(mapping_text(first), encoding="utf-8")
    assert read_lists([book], read_mapping(kept)).points() == first.points()
