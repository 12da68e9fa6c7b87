// Holds documents against HTML and WCAG: html-validate on each as it is written, then axe-core in a browser, in a light and a dark scheme, at
// the widths of a phone, a tablet and a desk.
//   node check.mjs DOCUMENT.html...
import { execFile } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { promisify } from "node:util";
import { FileSystemConfigLoader, HtmlValidate } from "html-validate";

const widths = [390, 768, 1280];
const schemes = { dark: 0, light: 1 }; // as Chromium's setting preferredColorScheme counts them
const documents = process.argv.slice(2);
if (documents.length === 0) throw new Error("name a document");
const faults = [];

// The presets that hold to the standard and to accessibility; the others are of style.
const validator = new HtmlValidate(new FileSystemConfigLoader({ root: true, extends: ["html-validate:standard", "html-validate:a11y"] }));
for (const file of documents) {
  const report = await validator.validateString(readFileSync(file, "utf8"), file);
  for (const result of report.results)
    for (const m of result.messages) faults.push(`${basename(file)}:${m.line}:${m.column}: ${m.ruleId}: ${m.message}`);
}

// A copy of a document tells the harness what axe found. Its policy would forbid that script; nothing else is changed.
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const tell = `<script>${axe}</script><script>addEventListener("load", async () => {
  const found = await axe.run(document, {resultTypes: ["violations"], iframes: false});
  parent.postMessage({rules: found.passes.length, violations: found.violations.map(v => v.id + ": " + v.help + ": " + v.nodes.length + " times, as " + v.nodes[0].html.slice(0, 200))}, "*");
});</script></body>`;
const harness = `<!doctype html><html lang="en"><title>harness</title><link rel="icon" href="data:,"><pre id="found"></pre><script>
const looks = %LOOKS%, found = [];
let frame;
function next() {
  if (found.length === looks.length) { document.getElementById("found").textContent = JSON.stringify(found); return; }
  if (frame) frame.remove();
  frame = document.createElement("iframe");
  frame.width = looks[found.length].width;
  frame.height = 900;
  frame.src = looks[found.length].src;
  document.body.append(frame);
}
addEventListener("message", e => { found.push(e.data); next(); });
next();
</script>`;

const dir = mkdtempSync(join(tmpdir(), "pages"));
try {
  const looks = [];
  for (const file of documents) {
    const text = readFileSync(file, "utf8");
    const copy = text.replace(/<meta http-equiv="Content-Security-Policy"[^>]*>/, "").replace("</body>", () => tell);
    if (!text.includes("Content-Security-Policy") || copy.length < text.length + axe.length) throw new Error(`${file} is no document of tarebook`);
    writeFileSync(join(dir, basename(file)), copy);
    for (const hash of text.includes('id="cards"') ? ["", "#view=cards"] : [""])
      for (const width of widths) looks.push({ src: basename(file) + hash, width });
  }
  writeFileSync(join(dir, "harness.html"), harness.replace("%LOOKS%", () => JSON.stringify(looks)));
  await Promise.all(Object.entries(schemes).map(async ([scheme, setting]) => {
    const root = process.geteuid() === 0 ? ["--no-sandbox"] : []; // it refuses to run as root with one
    const { stdout: dom } = await promisify(execFile)("chromium-headless-shell", [...root, "--disable-gpu", `--user-data-dir=${join(dir, scheme)}`, `--blink-settings=preferredColorScheme=${setting}`,
      "--allow-file-access-from-files", "--virtual-time-budget=10000", "--dump-dom", "file://" + join(dir, "harness.html")],
      { encoding: "utf8", maxBuffer: 1 << 28, timeout: 400_000 });
    const text = /<pre id="found">(.+?)<\/pre>/s.exec(dom);
    if (!text) throw new Error(`${scheme}: the browser told nothing: ${dom.slice(0, 500)}`);
    const found = JSON.parse(text[1].replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&amp;/g, "&"));
    found.forEach(({ rules, violations }, i) => {
      const where = `${looks[i].src} at ${looks[i].width} px, ${scheme}`;
      if (!(rules > 5)) faults.push(`${where}: only ${rules} rules were looked at`);
      for (const v of violations) faults.push(`${where}: ${v}`);
    });
    console.log(`${found.length} looks, ${scheme}`);
  }));
} finally {
  rmSync(dir, { recursive: true, force: true });
}
for (const fault of faults) console.error(fault);
console.log(`${documents.length} documents, ${faults.length} faults`);
process.exitCode = faults.length === 0 ? 0 : 1;
