"use strict";
(function () {
  var table = document.getElementById("stock"), cards = document.getElementById("cards"), find = document.getElementById("find");
  if (!table) return;
  var body = table.querySelector("tbody"), list = cards.querySelector("ol"), sorts = document.getElementById("sorts");
  var box = find.querySelector("input"), told = find.querySelector("[role=status]");
  var views = Array.from(find.querySelectorAll("[data-view]"));
  var spools = Array.from(body.rows).map(function (row, i) {
    var card = document.getElementById(row.dataset.spool);
    var texts = function (cells) { return Array.from(cells).map(function (cell) { return cell.textContent; }); };
    return {
      row: row, card: card, nth: i, values: Array.from(row.cells).map(function (cell) { return cell.dataset.v || cell.textContent; }),
      all: texts(row.cells).concat(texts(card.querySelectorAll("p, dd"))).join("\n").toLowerCase()
    };
  });
  var firsts = {
    text: ["from A", "from Z"], number: ["least first", "greatest first"],
    money: ["least first", "greatest first"], day: ["oldest first", "newest first"]
  };
  var keys = [], sorted = null, down = false, view = "table";

  // What cannot be told stands before all that can.
  function number(text) { var x = parseFloat(text.replace("\u2212", "-")); return isNaN(x) ? -Infinity : x; }
  function order(a, b) { return a < b ? -1 : a > b ? 1 : 0; }
  function compare(a, b, as) {
    if (as === "number") return order(number(a), number(b));
    if (as === "money") return order(a.split(" ")[1] || "", b.split(" ")[1] || "") || order(number(a), number(b));
    if (as === "day") return order(/^\d/.test(a) ? a : "", /^\d/.test(b) ? b : "");
    return order(a, b);
  }
  function shown(spool, on) { spool.row.hidden = spool.card.hidden = !on; }
  function draw() {
    var words = box.value.toLowerCase().split(/\s+/).filter(Boolean);
    var rows = document.createDocumentFragment(), items = document.createDocumentFragment(), n = 0;
    spools.slice().sort(function (a, b) {
      return sorted && (down ? -1 : 1) * compare(a.values[sorted.at], b.values[sorted.at], sorted.as) || a.nth - b.nth;
    }).forEach(function (s) {
      var on = words.every(function (word) { return s.all.indexOf(word) >= 0; });
      if (on) n++;
      shown(s, on);
      rows.appendChild(s.row);
      items.appendChild(s.card);
    });
    body.appendChild(rows);
    list.appendChild(items);
    keys.forEach(function (key) {
      var turn = key !== sorted ? "" : down ? "down" : "up";
      key.buttons.forEach(function (b) { b.dataset.turn = turn; });
      key.buttons[1].setAttribute("aria-pressed", String(key === sorted));
      key.head.setAttribute("aria-sort", key !== sorted ? "none" : down ? "descending" : "ascending");
    });
    document.body.dataset.view = view;
    table.hidden = view !== "table";
    cards.hidden = view !== "cards";
    views.forEach(function (b) { b.setAttribute("aria-pressed", String(b.dataset.view === view)); });
    var text = n === spools.length ? n + (n === 1 ? " spool" : " spools") : n + " of " + spools.length + " spools";
    if (sorted) text += ", by " + sorted.name + ", " + firsts[sorted.as][down ? 1 : 0];
    told.textContent = text;
  }
  // keep writes what is searched, sorted and shown into the address, after #.
  function keep() {
    var state = new URLSearchParams();
    if (view !== "table") state.set("view", view);
    if (sorted) state.set("sort", sorted.name);
    if (down) state.set("turn", "down");
    if (box.value) state.set("find", box.value);
    try { history.replaceState(null, "", "#" + state); } catch (e) { /* a frame that may not */ }
  }
  // read does what the address says: what was kept, or the spool or job that a link leads to.
  function read() {
    var hash = location.hash.slice(1);
    if (hash.indexOf("=") > 0) {
      var state = new URLSearchParams(hash);
      view = state.get("view") === "cards" ? "cards" : "table";
      sorted = keys.filter(function (key) { return key.name === state.get("sort"); })[0] || null;
      down = sorted !== null && state.get("turn") === "down";
      box.value = state.get("find") || "";
      return draw();
    }
    var target = hash && document.getElementById(decodeURIComponent(hash));
    if (target && target.parentNode === list) {
      view = "cards";
      if (target.hidden) box.value = "";
      draw();
      target.scrollIntoView();
    }
  }
  function sort(key) {
    down = sorted === key && !down;
    sorted = key;
    draw();
    keep();
  }
  Array.from(table.querySelectorAll("[data-as]")).forEach(function (head, at) {
    var key = { name: head.textContent, head: head, at: at, as: head.dataset.as, buttons: [] };
    head.textContent = "";
    [head, sorts].forEach(function (place) {
      var b = document.createElement("button");
      b.type = "button";
      b.textContent = key.name;
      b.addEventListener("click", function () { sort(key); });
      place.appendChild(b);
      key.buttons.push(b);
    });
    keys.push(key);
  });
  views.forEach(function (b) { b.addEventListener("click", function () { view = b.dataset.view; draw(); keep(); }); });
  box.addEventListener("input", function () { draw(); keep(); });
  window.addEventListener("hashchange", read);
  find.hidden = false;
  draw();
  read();
})();
