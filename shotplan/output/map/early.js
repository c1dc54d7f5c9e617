"use strict";
// Until the live map stands, and wherever it fails, the plain picture is shown.
document.documentElement.classList.add("live");
addEventListener("error", function () {
  document.documentElement.classList.remove("live");
});
