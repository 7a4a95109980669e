// What the pages have besides: "/" goes to the box. Without scripts it is
// reached by the Tab key, as the first thing of the page.
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
