// The picture of an instrument's work begins where work is open; everything before is a scroll to the left.

const box = document.querySelector(".net-box");
const open = box?.querySelector(".net-piece[data-open]");
if (open) {
  const room = box.getBoundingClientRect();
  box.scrollLeft = open.getBoundingClientRect().left - room.left - room.width / 4;
}
