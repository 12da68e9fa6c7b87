"use strict";
(function () {
  var list = document.getElementById("cards"), find = document.getElementById("find");
  if (!list || !find) return;
  var box = find.querySelector("input"), told = find.querySelector("[role=status]");
  var buttons = Array.from(find.querySelectorAll("button"));
  var cards = Array.from(list.children).map(function (li, i) {
    var cells = [li.querySelector("h3"), li.querySelector("p")].concat(Array.from(li.querySelectorAll("dd")));
    var texts = cells.map(function (cell) { return cell.textContent; });
    return { li: li, nth: i, texts: texts, all: texts.join("\n").toLowerCase() };
  });
  var firsts = {
    text: ["from A", "from Z"], number: ["least first", "greatest first"],
    money: ["least first", "greatest first"], day: ["oldest first", "newest first"]
  };
  var sorted = null, down = false;

  // What cannot be told stands before all that can.
  function number(text) { var x = parseFloat(text); return isNaN(x) ? -Infinity : x; }
  function order(a, b) { return a < b ? -1 : a > b ? 1 : 0; }
  function compare(a, b, as) {
    if (as === "number") return order(number(a), number(b));
    if (as === "money") return order(a.split(" ")[1] || "", b.split(" ")[1] || "") || order(number(a), number(b));
    if (as === "day") return order(/^\d/.test(a) ? a : "", /^\d/.test(b) ? b : "");
    return order(a, b);
  }
  function tell() {
    var n = cards.filter(function (c) { return !c.li.hidden; }).length;
    var words = n === cards.length ? n + (n === 1 ? " spool" : " spools") : n + " of " + cards.length + " spools";
    if (sorted) words += ", by " + sorted.textContent + ", " + firsts[sorted.dataset.as][down ? 1 : 0];
    told.textContent = words;
  }
  function sort(button) {
    down = sorted === button && !down;
    sorted = button;
    buttons.forEach(function (b) {
      b.setAttribute("aria-pressed", String(b === button));
      if (b === button) b.dataset.turn = down ? "down" : "up"; else delete b.dataset.turn;
    });
    var at = Number(button.dataset.at), as = button.dataset.as;
    var all = document.createDocumentFragment();
    cards.slice().sort(function (a, b) {
      return (down ? -1 : 1) * compare(a.texts[at], b.texts[at], as) || a.nth - b.nth;
    }).forEach(function (c) { all.appendChild(c.li); });
    list.appendChild(all);
    tell();
  }
  function search() {
    var words = box.value.toLowerCase().split(/\s+/).filter(Boolean);
    cards.forEach(function (c) {
      c.li.hidden = !words.every(function (word) { return c.all.indexOf(word) >= 0; });
    });
    tell();
  }
  buttons.forEach(function (b) { b.addEventListener("click", function () { sort(b); }); });
  box.addEventListener("input", search);
  window.addEventListener("hashchange", function () { // a link to a card that is not among those found
    var card = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (card && card.hidden) { box.value = ""; search(); card.scrollIntoView(); }
  });
  find.hidden = false;
  tell();
})();
