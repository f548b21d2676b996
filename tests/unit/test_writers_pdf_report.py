"""Reports on paper: what the web page says, every text as text, inside the margins, the same bytes again."""

from __future__ import annotations

import io
import re
import subprocess
import warnings
from dataclasses import dataclass, fields, replace
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from flightlog.debriefing import Debrief
from flightlog.errors import Note
from flightlog.writers.page import page_of
from flightlog.writers.page_parts import Chart, Column, Fact, Page, Table
from flightlog.writers.pdf_pages import MOST_ODDITIES, pdf_page
from flightlog.writers.pdf_texts import USUAL, letters
from tests.unit.made_debrief import HOSTILE, made_debrief, without_flights

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pypdf import PdfReader

POINTS_PER_MM = 72.0 / 25.4
SIZES_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1 size A
MARKUP = '#panic("x") *b* $1/0$ @label `raw` \\ #image("/etc/passwd") <tag> = not a heading'


def read(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


def text_of(content: bytes) -> str:
    """All words of all pages, single spaces between them, without the places where a word may be broken."""
    text = " ".join(page.extract_text() for page in read(content).pages)
    return " ".join(text.replace("\u200b", "").split())


def pictures(content: bytes, dots_per_inch: int = 60) -> list[np.ndarray]:
    """Every page in shades of grey, drawn by another program."""
    ppm = subprocess.run(
        ["pdftoppm", "-gray", "-r", str(dots_per_inch), "-"], input=content, capture_output=True, check=True
    ).stdout
    pages, at = [], 0
    while at < len(ppm):
        width, height = map(int, ppm[at:].split(b"\n", 2)[1].split())
        head = len(b"\n".join(ppm[at:].split(b"\n", 3)[:3])) + 1
        raw = Image.open(io.BytesIO(ppm[at : at + head + width * height]))
        pages.append(np.asarray(raw))
        at += head + width * height
    return pages


@pytest.fixture(scope="module")
def page() -> Page:
    return page_of(made_debrief())


@pytest.fixture(scope="module")
def content(page) -> bytes:
    return pdf_page(page)


def cells_of(page: Page) -> list[str]:
    """What a reader of the page must find in the PDF too."""
    texts = [page.title, page.subtitle, *page.cautions, *(fact.value for fact in page.facts)]
    for flight in page.flights:
        texts += [flight.title, *flight.story, *flight.looks, *flight.look_notes]
        texts += [text for fact in flight.facts for text in (fact.label, fact.value, fact.detail)]
        texts += [chart.title for chart in flight.charts]
        for table in flight.tables:
            texts += [table.title, *table.remarks, *(column.label for column in table.columns)]
            texts += [part for row in table.rows for cell in row for part in split_interval(cell)]
    texts += [cell for row in page.quality.rows for cell in row]
    return [" ".join(text.split()) for text in texts if text]


def split_interval(cell: str) -> list[str]:
    value, bracket, interval = cell.partition(" (")
    return [value, interval.rstrip(")")] if bracket else [cell]


def test_everything_that_the_page_says_stands_in_the_pdf(page, content):
    said = text_of(content).replace("- ", "-").replace(" ", "")
    missing = [text for text in cells_of(page) if text.replace("- ", "-").replace(" ", "") not in said]
    assert not missing


def test_thresholds_that_are_not_the_defaults_are_printed_and_the_others_counted():
    debrief = made_debrief()
    longest = debrief.settings.longest_bridge_s + 5.0
    page = page_of(replace(debrief, settings=replace(debrief.settings, longest_bridge_s=longest)))
    said = text_of(pdf_page(page)).replace("- ", "-")
    assert len(page.settings.rows) > 100
    assert dict(page.own_settings.rows)["longest_bridge_s"] == str(longest)
    assert not [name for name, value in page.own_settings.rows if f"{name} {value}" not in said]
    assert f"The other {len(page.settings.rows) - len(page.own_settings.rows)} are the defaults" in said


def test_two_to_six_pages_with_numbers_name_and_caution_on_each(page, content):
    pages = [" ".join(one.extract_text().split()) for one in read(content).pages]
    assert 2 <= len(pages) <= 6
    for number, text in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in text
        assert page.cautions[0] in text
        assert page.title in text
        assert "monday.igc" in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_is_printed_in_the_margins(paper):
    long_word = "W" * 300
    debrief = made_debrief(pilot=long_word, file=f"{long_word}.igc", place=long_word, note=long_word)
    assert_inside_margins(pdf_page(page_of(debrief), paper=paper), paper)


def assert_inside_margins(content: bytes, paper: str) -> None:
    """Nothing is drawn outside the margins of any page, and pages have the size asked for."""
    width_mm, height_mm = SIZES_MM[paper]
    box = read(content).pages[0].mediabox
    assert float(box.width) == pytest.approx(width_mm * POINTS_PER_MM, abs=1.0)
    assert float(box.height) == pytest.approx(height_mm * POINTS_PER_MM, abs=1.0)
    for shade in pictures(content):
        dots_per_mm = shade.shape[1] / width_mm
        rows, columns = np.nonzero(shade < 250)
        assert columns.min() / dots_per_mm > 13.0
        assert columns.max() / dots_per_mm < width_mm - 13.0
        assert rows.min() / dots_per_mm > 8.0
        assert rows.max() / dots_per_mm < height_mm - 6.0


def test_fonts_are_embedded_and_figures_are_lines_not_pixels(content):
    fonts = images = 0
    for page in read(content).pages:
        for font in page["/Resources"].get("/Font", {}).values():
            descriptor = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            assert "/FontFile2" in descriptor or "/FontFile3" in descriptor
            assert "DejaVu" in descriptor["/FontName"]
            fonts += 1
        images += sum(thing.get_object()["/Subtype"] == "/Image" for thing in _things(page))
    assert fonts
    assert images == 0


def _things(page) -> list:
    return list(page["/Resources"].get("/XObject", {}).values())


def test_it_can_be_read_aloud(page, content):
    assert b"<pdfuaid:part>1</pdfuaid:part>" in content  # PDF/UA-1, ISO 14289-1, 5
    catalog = read(content).trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"]
    assert catalog["/Lang"] == "en"
    assert {chart.description for chart in page.flights[0].charts} <= alternatives(content)


def alternatives(content: bytes) -> set[str]:
    """What figures say for those who do not see them."""
    reader = read(content)
    objects = [reader.get_object(number) for number in range(1, len(reader.xref[0]) + 1)]
    return {str(thing["/Alt"]) for thing in objects if isinstance(thing, dict) and "/Alt" in thing}


def test_letters_that_no_font_has_stand_there_by_their_number():
    place = "鷹の丘"
    debrief = made_debrief(pilot="🦅 Ada \ue123", place=place)
    content = pdf_page(page_of(debrief))
    said = text_of(content)
    assert "[U+1F985] Ada" in said  # EAGLE, The Unicode Standard 9.0, Supplemental Symbols and Pictographs
    assert "[U+9DF9 U+306E U+4E18]" in said  # in tables, sentences and in the chart of its passes
    assert "Approaches to [U+9DF9" in said
    assert "the web page shows them" in said
    assert b"<pdfuaid:part>1</pdfuaid:part>" in content  # a box would break PDF/UA-1 (ISO 14289-1, 7.21.8)
    assert "the web page shows them" not in text_of(pdf_page(page_of(made_debrief(pilot="Ωμέγα عمر דוד"))))


def test_the_usual_letters_are_in_the_fonts():
    usual = [
        number for number in range(0x20, 0x3000) if USUAL.fullmatch(chr(number)) and chr(number).isprintable()
    ]
    assert len(usual) > 400
    assert not [hex(number) for number in usual if number not in letters()]


def test_text_in_figures_can_be_found(page, content):
    said = text_of(content)
    for chart in page.flights[0].charts:
        for panel in chart.panels:
            if panel.y_label and not panel.is_map:
                assert panel.y_label in said


def test_the_same_page_gives_the_same_bytes(page, content):
    assert pdf_page(page) == content


@pytest.mark.parametrize("name", [HOSTILE, MARKUP])
def test_hostile_names_appear_as_text(name):
    debrief = made_debrief(pilot=name, file=f"{name}.igc".replace("/", ":"), place=name, note=name)
    said = text_of(pdf_page(page_of(debrief))).replace(" ", "")
    visible = "".join(letter for letter in name if letter.isprintable() and letter != " ")
    assert said.count(visible) >= 3
    assert "root:x:0" not in said


def test_letters_of_other_scripts_and_broken_ones():
    debrief = made_debrief(pilot="Åse Żółć Ωμέγα Ёлка \ud800 \x00\x1b[31m", place="Grüß-Gott-Höhe")
    said = text_of(pdf_page(page_of(debrief)))
    for word in ("Åse", "Żółć", "Ωμέγα", "Ёлка", "[31m", "Grüß-Gott-Höhe"):
        assert word in said


def test_a_log_without_flights_says_so():
    assert "This log holds no flight" in text_of(pdf_page(page_of(without_flights())))


def long_table(rows: int, columns: int, *, is_folded: bool) -> Table:
    heads = tuple(Column(f"head {number}") for number in range(columns))
    cells = tuple(tuple(f"r{row}c{column}" for column in range(columns)) for row in range(rows))
    return Table("Long", heads, cells, is_folded=is_folded)


def with_table(page: Page, table: Table) -> Page:
    return replace(page, flights=(replace(page.flights[0], charts=(), tables=(table,)),))


def test_the_head_of_a_table_stands_on_every_page_it_takes(page):
    content = pdf_page(replace(page, overview=long_table(300, 8, is_folded=False)))
    pages = [one.extract_text() for one in read(content).pages]
    holding = [text for text in pages if "c7" in text]
    assert len(holding) > 2
    assert all("head 7" in text for text in holding)
    assert "r299c7" in " ".join(holding)


@pytest.mark.parametrize(("columns", "shown"), [(8, 24), (4, 48)])
def test_a_folded_table_is_shortened_and_says_by_how_much(page, columns, shown):
    said = text_of(pdf_page(with_table(page, long_table(300, columns, is_folded=True))))
    assert f"r{shown - 1}c3" in said
    assert f"r{shown}c3" not in said
    assert f"{300 - shown} more rows stand in the web page" in said


@pytest.mark.parametrize("rows", [12, 40, 300])
def test_a_long_flight_takes_six_pages_at_most(page, rows):
    tables = tuple(long_table(rows, 12, is_folded=rows > 40) for _ in range(9))
    flight = replace(page.flights[0], tables=tables)
    assert len(read(pdf_page(replace(page, flights=(flight,)))).pages) <= 6


def many_climbs(count: int) -> Debrief:
    """A flight of so many climbs and glides."""
    made = made_debrief()
    (flight,) = made.flights
    climbs = tuple(replace(flight.climbs[0], number=number) for number in range(1, count + 1))
    glides = tuple(replace(flight.glides[0], number=number) for number in range(1, count + 1))
    speeds = tuple(replace(flight.speed_to_fly[0], number=number) for number in range(1, count + 1))
    longer = replace(flight, climbs=climbs, glides=glides, speed_to_fly=speeds, phases=flight.phases[1:3] * count)
    return replace(made, flights=(longer,))


def many_flights(count: int) -> Debrief:
    """A day of so many flights."""
    made = made_debrief()
    return replace(
        made,
        flights=tuple(replace(made.flights[0], number=number) for number in range(1, count + 1)),
        spans=made.spans * count,
        pass_spans=made.pass_spans * count,
    )


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_sixty_climbs_take_six_pages_and_say_how_many_are_left_out(paper):
    content = pdf_page(page_of(many_climbs(60)), paper=paper)
    assert 2 <= len(read(content).pages) <= 6
    said = text_of(content)
    left_out = re.search(r"Climbs \(60\).*?(\d+) more rows stand in the web page", said)
    assert left_out
    assert 20 <= int(left_out[1]) <= 55
    assert_inside_margins(content, paper)


def test_a_day_of_five_flights_has_each_on_its_own_pages():
    content = pdf_page(page_of(many_flights(5)), paper="letter")
    pages = [" ".join(one.extract_text().split()) for one in read(content).pages]
    starts = [next(at for at, text in enumerate(pages) if f"Flight {n}, 13:00:10" in text) for n in range(1, 6)]
    lengths = [b - a for a, b in pairwise([*starts, len(pages)])]
    assert all(1 <= length <= 6 for length in lengths)
    assert all(pages[at].index("What the flight says") > pages[at].index("Flight ") for at in starts)


def test_a_log_full_of_oddities_makes_no_book():
    debrief = made_debrief()
    problems = tuple(Note("odd", f"{MARKUP} number {number}", number + 1) for number in range(20000))
    odd = replace(debrief, log=replace(debrief.log, problems=problems))
    content = pdf_page(page_of(odd))
    assert len(read(content).pages) <= 6
    assert f"{20000 - MOST_ODDITIES} more rows stand" in text_of(content)


@dataclass(frozen=True)
class RicherPage(Page):
    """A page with fields that the writer of PDF has never heard of."""

    plain_words: tuple[str, ...] = ()
    time_budget: Table | None = None
    more_facts: tuple[Fact, ...] = ()
    more_charts: tuple[Chart, ...] = ()
    nothing: tuple[str, ...] = ()


def test_fields_that_are_added_to_a_page_are_printed(page):
    chart = replace(page.flights[0].charts[0], title="A chart of its own")
    richer = RicherPage(
        **{entry.name: getattr(page, entry.name) for entry in fields(page)},
        plain_words=("Nobody has said this before",),
        time_budget=long_table(3, 3, is_folded=False),
        more_facts=(Fact("Another", "fact"),),
        more_charts=(chart,),
    )
    said = text_of(pdf_page(richer))
    for words in ("Plain words", "Nobody has said this before", "r2c2", "Another", "A chart of its own"):
        assert words in said
    assert "Nothing" not in said.replace("Nothing.", "")


def test_no_such_paper(page):
    with pytest.raises(ValueError, match="paper 'a3' is not among a4, letter"):
        pdf_page(page, paper="a3")
