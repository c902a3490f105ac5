"""Pages in a real browser: they draw, nothing overlaps or is cut, they print to sane pages."""

import base64
import re
import shutil
import subprocess

import pytest

pytestmark = pytest.mark.browser

WIDTHS = (1280, 800, 390)

TEXTS = """
// Every piece of text in a drawing or chart, with where it really lies on the screen.
const found = [];
for (const svg of document.querySelectorAll('svg')) {
  const frame = svg.getBoundingClientRect();
  for (const text of svg.querySelectorAll('text')) {
    const box = text.getBoundingClientRect();
    found.push({
      svg: [...document.querySelectorAll('svg')].indexOf(svg), text: text.textContent,
      left: box.left, top: box.top, right: box.right, bottom: box.bottom,
      size: box.height, out: Math.max(frame.left - box.left, frame.top - box.top,
                                      box.right - frame.right, box.bottom - frame.bottom),
    });
  }
}
return found;
"""

CUT = """
// What is wider or higher than the room that it has, and what lies outside the window.
const found = [];
const root = document.documentElement;
if (root.scrollWidth > root.clientWidth) found.push('page ' + root.scrollWidth);
for (const node of document.querySelectorAll('main *, header *')) {
  if (node.closest('svg')) continue;
  const style = getComputedStyle(node);
  if (style.display === 'inline' || (style.overflowX === 'auto' && arguments[0])) continue;
  if (node.scrollWidth > node.clientWidth + 1 && node.clientWidth > 0)
    found.push(node.tagName + ' ' + node.className + ' ' + node.textContent.slice(0, 60));
}
return found;
"""

OVERLAPS = """
// Cells and lines of text outside drawings that lie on each other.
const found = [];
const boxes = [];
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const node = walk.currentNode;
  if (!node.textContent.trim() || node.parentElement.closest('svg, style, title')) continue;
  const range = document.createRange();
  range.selectNodeContents(node);
  for (const box of range.getClientRects())
    if (box.width > 0) boxes.push([box, node.textContent.trim().slice(0, 40)]);
}
boxes.sort((a, b) => a[0].top - b[0].top);
for (let i = 0; i < boxes.length; i++) {
  for (let j = i + 1; j < boxes.length && boxes[j][0].top < boxes[i][0].bottom - 2; j++) {
    const a = boxes[i][0], b = boxes[j][0];
    const x = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const y = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (x > 1 && y > 0.3 * Math.min(a.height, b.height)) found.push(boxes[i][1] + ' | ' + boxes[j][1]);
  }
}
return found;
"""

HEADINGS = """
// Headings as they are read, and what stands at the top of every page.
return [...document.querySelectorAll('h1, h2, h3, .provenance, p.before')].map(
  node => node.innerText.trim().replace(/\\s+/g, ' '));
"""

SMALLEST_PX = 6.5
"""Height of a line of text on the screen below which nobody reads it at arm's length."""


def look(browser, pages, width):
    """Yield (page, ...) of every page at a width."""
    for page in pages:
        browser.open(page, width)
        yield page


@pytest.mark.parametrize("width", WIDTHS)
def test_drawings_and_charts_draw_and_no_text_overlaps_or_is_cut(browser, pages, width):
    drawn = 0
    for page in look(browser, pages, width):
        texts = browser.run(TEXTS)
        drawn += len({text["svg"] for text in texts})
        for text in texts:
            assert text["out"] <= 0.5, (page, text)
            assert text["size"] >= SMALLEST_PX, (page, text)
            assert text["right"] > text["left"], (page, text)
        assert not overlapping(texts), page
    assert drawn > 30


def overlapping(texts):
    """Return pairs of texts of one picture that lie on each other.

    Boxes are as high as the font's line, letters are lower: a quarter of the height is air.
    """
    found = []
    texts = sorted(texts, key=lambda text: (text["svg"], text["top"]))
    for place, one in enumerate(texts):
        for other in texts[place + 1:]:
            if other["svg"] != one["svg"] or other["top"] >= one["bottom"]:
                break
            across = min(one["right"], other["right"]) - max(one["left"], other["left"])
            down = min(one["bottom"], other["bottom"]) - other["top"]
            if across > 1 and down > 0.25 * min(one["size"], other["size"]):
                found.append((one["text"], other["text"]))
    return found


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_is_wider_than_its_window_and_no_words_are_cut(browser, pages, width):
    for page in look(browser, pages, width):
        # On a small screen tables and pictures scroll by themselves, as sheets of A3 always do.
        scrolls = width < 640 or page.stem == "poster"
        assert browser.run(CUT, scrolls) == [], page


@pytest.mark.parametrize("width", WIDTHS)
def test_words_outside_drawings_do_not_overlap(browser, pages, width):
    for page in look(browser, pages, width):
        assert browser.run(OVERLAPS) == [], page


def test_the_console_is_silent_and_unkind_text_runs_nothing(browser, pages):
    browser.console()
    for page in look(browser, pages, WIDTHS[0]):
        assert browser.run("return document.querySelectorAll('script').length") == 0, page
        assert browser.run("return document.readyState") == "complete"
        assert browser.console() == [], page


def test_pages_load_nothing_from_elsewhere(browser, pages):
    for page in look(browser, pages, WIDTHS[0]):
        assert browser.run("return performance.getEntriesByType('resource').length") == 0, page


def test_a_drawing_alone_draws(browser, pages):
    figures = sorted((pages[0].parents[1] / "haloscope" / "figures").glob("*.svg"))
    assert figures
    for figure in figures:
        browser.open(figure, WIDTHS[0])
        texts = browser.run(TEXTS.replace("document.querySelectorAll('svg')",
                                          "[document.documentElement]"))
        assert texts, figure
        assert not overlapping(texts), figure


def test_pages_print_to_sane_paper(browser, pages, tmp_path):
    if shutil.which("pdftotext") is None:
        pytest.fail("this test reads PDF: apt-get install poppler-utils", pytrace=False)
    for page in pages:
        browser.open(page, WIDTHS[0])
        browser.devtools("Emulation.setEmulatedMedia", media="print")
        words = short_words(browser.run("return document.querySelector('main').innerText"))
        headings = set(browser.run(HEADINGS))
        browser.devtools("Emulation.setEmulatedMedia", media="")
        file = tmp_path / "page.pdf"
        file.write_bytes(base64.b64decode(browser.print()))
        text = subprocess.run(["pdftotext", "-layout", file, "-"], check=True, capture_output=True,
                              text=True).stdout
        sheets = text.split("\f")[:-1]
        assert 1 <= len(sheets) <= 16, page
        for sheet in sheets:
            # No sheet is empty (a drawing has words too) or holds nothing but headings.
            lines = [" ".join(line.split()) for line in sheet.splitlines() if line.strip()]
            own = " ".join(line for line in lines if line not in headings).split()
            assert len(own) > 2, (page, lines)
        # Next to nothing gets lost in print.
        lost = words - short_words(text)
        assert len(lost) <= 0.03 * len(words) + 2, (page, lost)
        assert not off_paper(file), page


def test_a_drawing_to_pin_up_fills_one_sheet_of_a3(browser, pages, tmp_path):
    posters = [page for page in pages if page.stem == "poster"]
    assert posters
    for page in posters:
        browser.open(page, WIDTHS[0])
        file = tmp_path / "poster.pdf"
        file.write_bytes(base64.b64decode(browser.print()))
        told = subprocess.run(["pdfinfo", file], check=True, capture_output=True, text=True).stdout
        pictures = browser.run("return document.querySelectorAll('figure').length")
        assert int(re.search(r"Pages: +(\d+)", told)[1]) == pictures, page
        sides = [float(v) for v in re.search(r"Page size: +([\d.]+) x ([\d.]+)", told).groups()]
        # A3 by ISO 216, in points; a browser rounds to pixels.
        assert sorted(sides) == pytest.approx([841.9, 1190.6], abs=1.0), page


def short_words(text):
    """Return words that no line breaks: of four to fifteen letters."""
    return set(re.findall(r"\b[A-Za-z]{4,15}\b", text))


def off_paper(file):
    """Return words of a PDF that lie outside its paper."""
    boxes = subprocess.run(["pdftotext", "-bbox", file, "-"], check=True, capture_output=True,
                           text=True).stdout
    found = []
    for sheet in boxes.split("<page ")[1:]:
        width, height = (float(v) for v in re.match(r'width="([^"]+)" height="([^"]+)"',
                                                    sheet).groups())
        for left, top, right, bottom, word in re.findall(
            r'xMin="([^"]+)" yMin="([^"]+)" xMax="([^"]+)" yMax="([^"]+)">([^<]*)<', sheet
        ):
            if float(left) < 0 or float(top) < 0 or float(right) > width or float(bottom) > height:
                found.append(word)
    return found
