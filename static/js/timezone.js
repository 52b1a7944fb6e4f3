// Chooses the browser's own time zone beforehand where a field asks for one and is still empty.
const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
for (const field of document.querySelectorAll("select[data-own-time-zone]")) {
  if (!field.value && [...field.options].some((option) => option.value === zone)) field.value = zone;
}
