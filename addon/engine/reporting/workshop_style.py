"""The style sheet and the script of the workshop sheet."""

STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #111; font: 17px/1.4 "Helvetica Neue", Arial, sans-serif; }
main { max-width: 52rem; margin: 0 auto; padding: 1rem; overflow-wrap: anywhere; }
h1 { font-size: 1.4em; margin: 0 0 .4em; }
h2 { font-size: 1.05em; margin: 1.2em 0 .4em; border-bottom: 2px solid #111; }
h3 { font-size: 1em; margin: 1em 0 .2em; }
p { margin: .2em 0; }
pre { font-size: .8em; line-height: 1.25; white-space: pre; margin: .6em 0 .2em; }
ul, ol { list-style: none; margin: 0; padding: 0; }
li { margin: .35em 0; }
.box label { display: flex; gap: .6em; }
input[type=checkbox] { width: 1.3em; height: 1.3em; flex: none; margin: .1em 0 0; }
.urgent { border: 3px solid #9c1b10; padding: 0 .7em .4em; margin-top: 1em; }
.urgent h2 { color: #9c1b10; border-color: #9c1b10; }
.steps li { display: grid; grid-template-columns: 6.4em 1fr 11em; gap: .1em .8em; padding: .35em 0;
  border-bottom: 1px solid #767676; align-items: start; }
.steps .done { grid-row: 1; display: flex; gap: .5em; align-items: center; }
.steps input[type=time] { grid-column: 1; grid-row: 2; font: inherit; font-size: .8em; width: 100%; color: #111;
  background: #fff; border: 1px solid #767676; }
.steps li > div { grid-column: 2; grid-row: 1 / span 2; }
.steps figure { grid-column: 3; grid-row: 1 / span 2; }
.steps li:not(:has(figure)) > div { grid-column: 2 / span 2; }
.number { font-weight: bold; font-size: 1.2em; }
.caution { color: #9c1b10; font-weight: bold; }
.caution::before { content: "! "; }
.check { font-style: italic; }
figure { margin: 0; }
figure svg { width: 100%; max-height: 15em; display: block; font: 13px Arial, sans-serif; }
.model { display: flow-root; }
.model figure { max-width: 11em; float: right; }
figcaption { font-size: .75em; text-align: center; }
details { margin-top: 2em; }
summary { font-weight: bold; cursor: pointer; }
@media (max-width: 40rem) {
  .steps li { grid-template-columns: 5.4em 1fr; }
  .steps li > div, .steps li:not(:has(figure)) > div { grid-column: 2; }
  .steps figure { grid-column: 1 / span 2; grid-row: auto; justify-self: center; width: 14em; }
}
@page { size: A4; margin: 10mm 12mm; }
@media print {
  body { font-size: 8.6pt; line-height: 1.22; }
  main { max-width: none; padding: 0; }
  h2 { margin: .7em 0 .2em; }
  li { margin: .16em 0; }
  h2 { break-after: avoid; }
  .steps:not(.long) { break-before: page; }
  .steps li { grid-template-columns: 5.6em 1fr 32mm; padding: .14em 0; break-inside: avoid; }
  .steps .done { grid-row: 1; }
  figure svg { max-height: 25mm; }
  html:not([lang="en"]) body { font-size: 8pt; line-height: 1.16; }
  html:not([lang="en"]) figure svg { max-height: 22mm; }
  input[type=checkbox] { width: 3.2mm; height: 3.2mm; }
  .steps input[type=time] { border-width: 0 0 1px; }
  .steps input[type=time]:not([data-set]) { color: transparent; }
  input[type=time]::-webkit-calendar-picker-indicator { display: none; }
  .appendix { display: none; }
}
"""

SCRIPT = """
const plan = document.body.dataset.plan;
let kept = {};
try { kept = JSON.parse(localStorage.getItem(plan) || "{}"); } catch (fault) { kept = {}; }
for (const field of document.querySelectorAll("input")) {
  const tick = field.type === "checkbox";
  if (field.id in kept) { if (tick) field.checked = kept[field.id]; else field.value = kept[field.id]; }
  if (field.value && !tick) field.dataset.set = "";
  field.addEventListener("change", () => {
    kept[field.id] = tick ? field.checked : field.value;
    if (!tick) field.toggleAttribute("data-set", field.value !== "");
    try { localStorage.setItem(plan, JSON.stringify(kept)); } catch (fault) { /* a page that may keep nothing */ }
  });
}
"""
