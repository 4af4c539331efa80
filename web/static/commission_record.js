// A record of a commissioning: on a screen as on paper.

document.getElementById("print").addEventListener("click", () => window.print());
