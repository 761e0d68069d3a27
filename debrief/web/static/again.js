// A page that came before what it shows was worked out: loaded again a little later, unless somebody types in it.
const note = document.querySelector("[data-again]");

function again() {
  const typing = document.activeElement && document.activeElement.matches("input, textarea, select");
  if (typing || document.hidden) setTimeout(again, 1000);
  else location.reload();
}

if (note) setTimeout(again, 1000 * Number(note.dataset.again));
