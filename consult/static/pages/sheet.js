// A sheet to print: the button prints it; without a script the browser's own menu does.

const button = document.getElementById("print");
button.hidden = false;
button.addEventListener("click", () => print());
