"""A document as one self-contained HTML page: no script, nothing fetched from anywhere."""

import html

from bench.plots.palette import LIGHT
from bench.report.document import (
    Block,
    Box,
    Document,
    Facts,
    Figures,
    Heading,
    Points,
    Sign,
    Table,
    Text,
)
from bench.wording.shell_quote import without_controls

_STYLE = """
:root{color-scheme:light}
body{font:15px/1.45 "Source Serif 4",Charter,"Palatino Linotype",Palatino,P052,Georgia,serif;
color:var(--ink);background:var(--page);max-width:46rem;margin:2.5rem auto;padding:0 1.2rem}
h1{font-size:2rem;line-height:1.15;margin:0}
.sub{font-style:italic;color:var(--quiet);margin:.2rem 0 .7rem}
header{border-bottom:1.5px solid var(--ink);margin-bottom:.9rem}
h2{font-size:1.2rem;margin:1.9rem 0 .4rem}
p{margin:.5rem 0}.lead{font-size:1.15rem}.small,.small li{font-size:.85rem;color:var(--quiet)}
ul{margin:.3rem 0;padding-left:1.1rem}li{margin:.15rem 0}
.box{border-left:4px solid;padding:.1rem 0 .1rem .9rem;margin:1rem 0}
.box p{margin:0}.box b{font-size:1.12rem}.box ul{color:var(--ink)}
.stop{border-color:var(--grave)}.stop b{color:var(--grave)}
.mend{border-color:var(--mend)}.mend b{color:var(--mend)}
.clear{border-color:var(--good)}.clear b{color:var(--good)}
.caution{border-color:var(--quiet);font-size:.87rem}.caution b{font-size:1em;color:var(--quiet)}
dl{display:grid;grid-template-columns:7rem 1fr 7rem 1fr;gap:.15rem .8rem;font-size:.88rem;
margin:.6rem 0}
dt{font-style:italic;color:var(--quiet)}dd{margin:0;overflow-wrap:anywhere}
dd.long{grid-column:2/5}dd.blank{border-bottom:1px solid var(--grid)}
table{border-collapse:collapse;width:100%;font-size:.87rem;font-variant-numeric:tabular-nums}
caption{text-align:left;font-size:.98em;font-style:italic;color:var(--quiet);padding-bottom:.2rem}
td,th{padding:.22rem .55rem .22rem 0;vertical-align:top;font-weight:400;text-align:left}
thead td,thead th{font-style:italic;color:var(--quiet);border-bottom:1px solid var(--grid)}
tbody td,tbody th{border-top:1px solid var(--faint)}td.r,th.r{text-align:right}
tbody tr.group>*{border-top:1px solid var(--grid)}tr.strong>*{font-weight:600}
table{border-bottom:1px solid var(--grid)}
.figures{display:grid;gap:1rem;margin:1rem 0}.two{grid-template-columns:1fr 1fr}
figure{margin:0}figure svg{width:100%;height:auto;display:block}
figcaption{font-size:.85rem;font-style:italic;color:var(--quiet)}
.sign{display:grid;grid-auto-flow:column;grid-auto-columns:1fr;gap:1.5rem;margin:3.4rem 0 1rem}
.sign div{border-top:1px solid var(--ink);font-size:.85rem;font-style:italic;color:var(--quiet)}
footer{border-top:1px solid var(--edge);color:var(--quiet);font-size:.78rem;margin-top:2rem;
padding-top:.4rem}
@media(max-width:40rem){.two{grid-template-columns:1fr}dl{grid-template-columns:7rem 1fr}
dd.long{grid-column:2}}
@media print{body{max-width:none;margin:0;font-size:10.5pt}h2,th{break-after:avoid}
tr,figure,.box,.sign{break-inside:avoid}p,li{orphans:2;widows:2}
tbody tr:first-child{break-after:avoid}tbody tr:last-child{break-before:avoid}@page{margin:18mm}}
"""
_COLOURS = ("ink", "quiet", "page", "grid", "faint", "edge", "grave", "mend", "good")


def html_page(document: Document) -> str:
    """Return the document as HTML; every text is escaped, figures stand in it as SVG."""
    title = html.escape(document.title)
    subtitle = html.escape(document.subtitle)
    body = "\n".join(_block(block) for block in document.blocks)
    return without_controls(
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}{': ' if subtitle else ''}{subtitle}</title>\n"
        f"<style>{_style()}</style>\n</head>\n<body>\n"
        f'<header><h1>{title}</h1><p class="sub">{subtitle}</p></header>\n<main>\n{body}\n'
        f"</main>\n<footer>{html.escape(document.foot)}</footer>\n</body>\n</html>\n")


def _style() -> str:
    colours = "".join(f"--{name}:{getattr(LIGHT, name)};" for name in _COLOURS)
    return f"\n:root{{{colours}}}{_STYLE}"


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        return f"<h2>{html.escape(block.text)}</h2>"
    if isinstance(block, Text):
        return f'<p class="{block.style}">{html.escape(block.text)}</p>'
    if isinstance(block, Points):
        return f'<ul class="{block.style}">{_items(block.items)}</ul>'
    if isinstance(block, Box):
        items = f"<ul>{_items(block.items)}</ul>" if block.items else ""
        return (f'<div class="box {block.tone}"><p><b>{html.escape(block.title)}</b></p>'
                f"{items}</div>")
    if isinstance(block, Facts):
        return f"<dl>{''.join(_fact(label, text) for label, text in block.rows)}</dl>"
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Figures):
        two = " two" if len(block.figures) > 1 else ""
        return f'<div class="figures{two}">' + "".join(
            f"<figure>{_inline(f.svg)}<figcaption>{html.escape(f.caption)}</figcaption></figure>"
            for f in block.figures) + "</div>"
    assert isinstance(block, Sign)
    return '<div class="sign">' + "".join(
        f"<div>{html.escape(label)}</div>" for label in block.labels) + "</div>"


def _items(items: tuple[str, ...]) -> str:
    return "".join(f"<li>{html.escape(item)}</li>" for item in items)


def _fact(label: str, text: str) -> str:
    kind = ' class="long"' if len(text) > 34 else "" if text else ' class="blank"'
    return f"<dt>{html.escape(label)}</dt><dd{kind}>{html.escape(text)}</dd>"


def _table(table: Table) -> str:
    def cell(tag: str, text: str, place: int) -> str:
        side = ' class="r"' if table.columns[place].right else ""
        scope = {"th": ' scope="col"', "name": ' scope="row"'}.get(tag, "")
        # A head without a word names nothing.
        tag = "td" if tag == "td" or not text else "th"
        return f"<{tag}{scope if tag == 'th' else ''}{side}>{html.escape(text)}</{tag}>"

    rows = []
    for number, row in enumerate(table.rows):
        kind = " ".join(name for name, places in (("group", table.groups),
                                                  ("strong", table.strong)) if number in places)
        cells = "".join(cell("name" if k == 0 and table.named else "td", text, k)
                        for k, text in enumerate(row))
        rows.append(f'<tr{f" class={chr(34)}{kind}{chr(34)}" if kind else ""}>{cells}</tr>')
    titles = "".join(cell("th", column.title, k) for k, column in enumerate(table.columns))
    return (f"<table><caption>{html.escape(table.caption)}</caption><thead><tr>{titles}</tr>"
            f"</thead><tbody>{''.join(rows)}</tbody></table>")


def _inline(svg: str) -> str:
    """Return an SVG document without its XML declaration, to stand in a page."""
    return svg[svg.index("<svg"):]
