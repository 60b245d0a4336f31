"""A document as one self-contained HTML page: no script, nothing fetched from anywhere."""

import html

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
color:#16191c;background:#fff;max-width:46rem;margin:2.5rem auto;padding:0 1.2rem}
h1{font-size:2rem;line-height:1.15;margin:0}
.sub{font-style:italic;color:#59616a;margin:.2rem 0 .7rem}
header{border-bottom:1.5px solid #16191c;margin-bottom:.9rem}
h2{font-size:1.2rem;margin:1.9rem 0 .4rem}
p{margin:.5rem 0}.small,.small li{font-size:.85rem;color:#59616a}
ul{margin:.3rem 0;padding-left:1.1rem}li{margin:.15rem 0}
.box{border-left:4px solid;padding:.1rem 0 .1rem .9rem;margin:1rem 0}
.box b{font-size:1.12rem}.box ul{color:#16191c}
.stop{border-color:#a1142b}.stop b{color:#a1142b}.mend{border-color:#a86400}.mend b{color:#a86400}
.clear{border-color:#2b6b4a}.clear b{color:#2b6b4a}
.caution{border-color:#59616a;font-size:.87rem}.caution b{font-size:1em;color:#59616a}
dl{display:grid;grid-template-columns:7rem 1fr 7rem 1fr;gap:.15rem .8rem;font-size:.88rem;
margin:.6rem 0}
dt{font-style:italic;color:#59616a}dd{margin:0;overflow-wrap:anywhere}
dd.long{grid-column:2/5}dd.blank{border-bottom:1px solid #8d959c}
table{border-collapse:collapse;width:100%;font-size:.87rem;font-variant-numeric:tabular-nums}
th{font-weight:400;font-style:italic;color:#59616a;text-align:left;border-bottom:1px solid #8d959c}
td,th{padding:.22rem .55rem .22rem 0;vertical-align:top}td{border-top:1px solid #e1e4e7}
.r{text-align:right}tr.group td{border-top:1px solid #8d959c}tr.strong td{font-weight:600}
table{border-bottom:1px solid #8d959c}
.figures{display:grid;gap:1rem;margin:1rem 0}.two{grid-template-columns:1fr 1fr}
figure{margin:0}figure svg{width:100%;height:auto;display:block}
figcaption{font-size:.85rem;font-style:italic;color:#59616a}
.sign{display:grid;grid-auto-flow:column;grid-auto-columns:1fr;gap:1.5rem;margin:3.4rem 0 1rem}
.sign div{border-top:1px solid #16191c;font-size:.85rem;font-style:italic;color:#59616a}
footer{border-top:1px solid #d9dde0;color:#59616a;font-size:.78rem;margin-top:2rem;
padding-top:.4rem}
@media(max-width:40rem){.two{grid-template-columns:1fr}dl{grid-template-columns:7rem 1fr}
dd.long{grid-column:2}}
@media print{body{max-width:none;margin:0;font-size:10.5pt}h2,th{break-after:avoid}
tr,figure,.box,.sign{break-inside:avoid}@page{margin:18mm}}
"""


def html_page(document: Document) -> str:
    """Return the document as HTML; every text is escaped, figures stand in it as SVG."""
    title = html.escape(document.title)
    subtitle = html.escape(document.subtitle)
    body = "\n".join(_block(block) for block in document.blocks)
    return without_controls(
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}: {subtitle}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f'<header><h1>{title}</h1><p class="sub">{subtitle}</p></header>\n{body}\n'
        f"<footer>{html.escape(document.foot)}</footer>\n</body>\n</html>\n")


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        return f"<h2>{html.escape(block.text)}</h2>"
    if isinstance(block, Text):
        return f'<p class="{block.style}">{html.escape(block.text)}</p>'
    if isinstance(block, Points):
        return f'<ul class="{block.style}">{_items(block.items)}</ul>'
    if isinstance(block, Box):
        return (f'<div class="box {block.tone}"><b>{html.escape(block.title)}</b>'
                f"<ul>{_items(block.items)}</ul></div>")
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
    sides = ["r" if column.right else "" for column in table.columns]

    def cells(tag: str, texts: tuple[str, ...]) -> str:
        return "".join(
            f'<{tag}{f" class={side}" if side else ""}>{html.escape(text)}</{tag}>'
            for text, side in zip(texts, sides, strict=True))

    rows = []
    for number, row in enumerate(table.rows):
        kind = " ".join(name for name, places in (("group", table.groups),
                                                  ("strong", table.strong)) if number in places)
        rows.append(f'<tr{f" class={chr(34)}{kind}{chr(34)}" if kind else ""}>'
                    f'{cells("td", row)}</tr>')
    titles = cells("th", tuple(column.title for column in table.columns))
    return f"<table><thead><tr>{titles}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def _inline(svg: str) -> str:
    """Return an SVG document without its XML declaration, to stand in a page."""
    return svg[svg.index("<svg"):]
