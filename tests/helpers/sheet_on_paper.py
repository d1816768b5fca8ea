"""What a browser can be asked of the sheet as it lies on paper."""

#: Width and height of what a sheet of A4 holds, in CSS pixels.
PRINTED = (703, 960)
#: By how much the lead picture reaches into the facts below it, in CSS pixels.
LAID_OVER = """(() => {
const drawn = [...document.querySelectorAll(".lead-picture svg, .lead-picture figcaption")];
const facts = document.querySelector(".facts").getBoundingClientRect().top;
return Math.max(0, ...drawn.map((one) => one.getBoundingClientRect().bottom - facts));
})()"""
