"""How the HTML report looks: on a screen, on a telephone, and on paper."""

from __future__ import annotations

STYLE = """
:root { --ink: #1c1c1c; --quiet: #5a5a5a; --accent: #1d4e6e; --alarm: #b3134f; --good: #1f6b4a; --look: #8a5a00;
  --tint: #f2f4f6; --rule: #d5dadd; }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body { margin: 0 auto; padding: 1.2rem 1.2rem 3rem; max-width: 62rem; color: var(--ink); background: #fff;
  font: 16px/1.5 system-ui, "Segoe UI", Roboto, "Helvetica Neue", "DejaVu Sans", sans-serif; overflow-wrap: anywhere; }
header { border-bottom: 3px solid var(--accent); padding-bottom: .6rem; margin-bottom: 1rem; }
header .line { display: flex; justify-content: space-between; gap: 1rem; color: var(--quiet); font-size: .85rem; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: .2rem 0; color: var(--accent); }
h2 { font-size: 1.25rem; margin: 2.2rem 0 .6rem; color: var(--accent); border-bottom: 1px solid var(--accent); }
h3 { font-size: 1.05rem; margin: 1.4rem 0 .4rem; color: var(--accent); }
p { margin: .5rem 0; }
.quiet, .small { color: var(--quiet); }
.small { font-size: .86rem; }
.strong { font-weight: 700; }
.alarm { font-weight: 700; color: var(--alarm); }
.badge { display: inline-block; padding: .1rem .5rem; border-radius: 3px; font-size: .8rem; font-weight: 700;
  color: #fff; background: var(--quiet); white-space: nowrap; vertical-align: middle; }
.badge.yes { background: var(--good); } .badge.NO, .badge.invented { background: var(--alarm); }
.badge.look { background: var(--look); }
.names { display: flex; flex-wrap: wrap; gap: .4rem 2rem; margin: .5rem 0 0; }
.names dt, .facts dt { color: var(--quiet); } .names dd, .facts dd { margin: 0; }
.names dd { font-weight: 700; }
.facts { display: grid; grid-template-columns: minmax(7rem, max-content) 1fr; gap: 0; margin: .6rem 0;
  font-size: .92rem; }
.facts > * { border-bottom: 1px solid var(--rule); padding: .2rem .6rem .2rem 0; }
.verdict { background: var(--tint); border-left: 6px solid var(--quiet); padding: .6rem 1rem; margin: 1rem 0; }
.verdict.good { border-color: var(--good); } .verdict.bad { border-color: var(--alarm); }
.verdict.look { border-color: var(--look); }
.verdict p:first-child { font-size: 1.2rem; font-weight: 700; }
.verdict.good p:first-child { color: var(--good); } .verdict.bad p:first-child { color: var(--alarm); }
.verdict.look p:first-child { color: var(--look); }
.cards { display: grid; grid-template-columns: repeat(auto-fit, minmax(9.5rem, 1fr)); gap: .5rem; margin: 1rem 0; }
.cards div { background: var(--tint); padding: .6rem .7rem; }
.cards span { display: block; color: var(--quiet); font-size: .8rem; line-height: 1.35; }
.cards b { display: block; font-size: 1.35rem; line-height: 1.4; }
.scroll { overflow-x: auto; margin: .7rem 0; }
table { border-collapse: collapse; width: 100%; font-size: .88rem; font-variant-numeric: tabular-nums;
  line-height: 1.35; }
th { text-align: right; vertical-align: bottom; color: var(--quiet); border-bottom: 2px solid var(--accent);
  padding: .25rem .5rem; white-space: pre-line; overflow-wrap: normal; }
td { text-align: right; padding: .25rem .5rem; vertical-align: middle; overflow-wrap: normal; white-space: nowrap; }
th.words, td.words { text-align: left; } td.words { overflow-wrap: break-word; white-space: normal; }
td.wide { min-width: 9rem; max-width: 24rem; }
tbody tr:nth-child(even) { background: var(--tint); }
tbody tr:last-child td { border-bottom: 1px solid var(--quiet); }
tr.alarm td { color: var(--alarm); font-weight: 700; } tr.sum td { font-weight: 700; }
.answers td { border-bottom: 1px solid var(--rule); text-align: left; white-space: normal; overflow-wrap: anywhere; }
.answers tbody tr:nth-child(even) { background: none; }
.answers th { text-align: left; } .answers td:first-child { font-weight: 700; }
ul, ol { padding-left: 1.3rem; margin: .5rem 0; } li { margin: .25rem 0; }
ul.small li, ol.small li { margin: .15rem 0; }
figure { margin: 0; } figcaption { font-size: .86rem; color: var(--quiet); margin-bottom: .2rem; }
.pictures { display: grid; grid-template-columns: 1fr; gap: .8rem 1.4rem; margin: .8rem 0; align-items: end; }
.pictures .over { grid-column: 1 / -1; font-weight: 700; }
img { display: block; width: 100%; height: auto; }
.pictures.one img { max-width: 46rem; margin: 0 auto; }
.drawing .sheet { overflow-x: auto; border: 1px solid var(--rule); padding: .4rem; }
.drawing img { min-width: 44rem; max-width: none; width: 100%; }
.fields { display: grid; grid-template-columns: repeat(auto-fill, minmax(12rem, 1fr)); border: 1px solid var(--ink);
  border-width: 1px 0 0 1px; margin: .6rem 0; font-size: .85rem; }
.fields div { border: 1px solid var(--ink); border-width: 0 1px 1px 0; padding: .2rem .5rem; }
.fields span { display: block; color: var(--quiet); font-size: .72rem; }
footer { margin-top: 2.5rem; border-top: 1px solid var(--quiet); padding-top: .5rem; color: var(--quiet);
  font-size: .8rem; }
@media (min-width: 46rem) { .pictures.two { grid-template-columns: 1fr 1fr; } }
@media (max-width: 30rem) { body { padding: .8rem; font-size: 15px; } h1 { font-size: 1.5rem; }
  .answers thead { display: none; }
  .answers tr { display: block; padding: .4rem 0; border-bottom: 1px solid var(--rule); }
  .answers td { display: block; border: 0; padding: .05rem 0; } .answers td:nth-child(3)::before { content: "limit: "; }
  .answers td:empty { display: none; } }
"""
"""For everything."""

PRINT = """
@page { size: %(paper)s portrait; margin: 16mm 17mm; }
@page sheet { size: %(paper)s landscape; margin: 10mm; }
@media print {
  body { max-width: none; padding: 0; font-size: 9.5pt; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  h1 { font-size: 18pt; } h2, h3 { break-after: avoid; }
  .pictures.two { grid-template-columns: 1fr 1fr; }
  figure, .pictures, .cards, .verdict, tr { break-inside: avoid; } thead { display: table-header-group; }
  .scroll, .drawing .sheet { overflow: visible; } .drawing .sheet { border: 0; padding: 0; }
  .drawing { page: sheet; break-before: page; break-after: page; }
  .scroll table { font-size: 8.2pt; } td, th { padding: 1pt 3pt; } td.wide { min-width: 0; }
  .drawing h2 { margin: 0 0 1mm; font-size: 10pt; } .drawing ul { margin: 1mm 0 0; font-size: 7pt; }
  .drawing li { margin: 0; line-height: 1.3; } .drawing .fields { margin: 1mm 0 0; font-size: 7pt; }
  .drawing .fields span { font-size: 6pt; line-height: 1.2; } .drawing .fields div { padding: 0 2mm; line-height: 1.3; }
  .drawing img { width: %(width)smm; min-width: 0; height: %(height)smm; max-width: none; }
}
"""
"""For paper: its name, and width and height in mm of the drawing, which is to scale there."""
