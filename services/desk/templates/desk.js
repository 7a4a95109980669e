// What the pages have besides. "/" goes to the box: without scripts it is reached
// by the Tab key, as the first thing after the link to the content. And while a
// question is written, what was answered to the like of it: without scripts a
// button asks for that.
"use strict";
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, select, textarea, [contenteditable]")) return;
  const box = document.getElementById("box");
  if (!box) return;
  event.preventDefault();
  box.focus();
  box.select();
});
const similar = document.getElementById("similar");
const asking = document.querySelector('button[name="do"][value="look"]')?.form;
if (similar && asking) {
  let last = "";
  const ask = async () => {
    const said = new FormData(asking);
    const text = (said.get("enquiry.question") + " " + said.get("enquiry.symptom")).trim();
    if (text.length < 8 || text === last) return;
    last = text;
    said.set("do", "look");
    const answer = await fetch(asking.action, { method: "POST", body: new URLSearchParams(said) });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const found = page.getElementById("similar");
    if (answer.ok && found && text === last) similar.replaceChildren(...found.childNodes);
  };
  asking.addEventListener("change", () => ask().catch(() => {}));
}
