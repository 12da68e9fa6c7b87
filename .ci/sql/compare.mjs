// Holds the views that `tarebook sql` prints against the program's own answers, to the last digit:
// node compare.mjs TAREBOOK FOLDER BOOK... reads the books at once, and asks the program about each; without names, every book in FOLDER.
import { DuckDBInstance } from '@duckdb/node-api';
import { execFile } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';

const [binary, folder, ...named] = process.argv.slice(2);
const run = promisify(execFile);
const answer = async (book, ...args) => {
  try {
    return (await run(binary, ['--book', book, ...args], { maxBuffer: 1 << 30 })).stdout;
  } catch (failed) {
    if (failed.code !== 1) throw failed; // 1: answered, and something is flagged
    return failed.stdout;
  }
};
const json = async (book, ...args) => JSON.parse(await answer(book, ...args, '--format', 'json'));
const fold = (text) => text.toUpperCase().replaceAll('ẞ', 'ß').toLowerCase().replaceAll('ς', 'σ').replaceAll('ss', 'ß');

const db = await (await DuckDBInstance.create(':memory:')).connect();
const rows = async (sql) => (await db.runAndReadAll(sql)).getRowObjectsJson();
await db.run((await run(binary, ['sql', ...(named.length ? named.map((name) => join(folder, name)) : [join(folder, '*')])], { maxBuffer: 1 << 30 })).stdout);

let compared = 0;
const differences = [];
const same = (book, what, got, want) => {
  compared++;
  if (typeof want === 'number' && got !== null ? Number(got) !== want : (got ?? null) !== want) differences.push(`${book}: ${what}: the view says ${got}, the program ${want}`);
};
const byBook = (all) => Map.groupBy ? Map.groupBy(all, (r) => r.book) : all.reduce((m, r) => m.set(r.book, [...(m.get(r.book) ?? []), r]), new Map());
const views = {};
for (const name of ['shelf', 'waste_by_client_month', 'purge_by_printer', 'lots', 'use_by_week', 'never_weighed', 'conflicts', 'months']) {
  const began = Date.now();
  views[name] = byBook(await rows(name === 'months' ? 'SELECT DISTINCT book, month FROM consumed JOIN bought USING (book, spool)' : `FROM ${name}`));
  console.log(`${name}: ${Date.now() - began} ms`);
}

// keyed holds two lists against each other, record by record and figure by figure.
function keyed(book, what, got, want, key, figures) {
  const left = new Map(got.map((r) => [key(r), r]));
  for (const record of want) {
    const found = left.get(key(record));
    if (!found) {
      differences.push(`${book}: ${what}: no view has ${key(record)}`);
      continue;
    }
    left.delete(key(record));
    for (const [ours, theirs] of figures) same(book, `${what} ${key(record)} ${ours}`, found[ours], record[theirs ?? ours]);
  }
  for (const extra of left.keys()) differences.push(`${book}: ${what}: only the view has ${extra}`);
}

const seen = (r) => ({ spool: r.spool, weighed: r.last_weighed && Date.parse(r.last_weighed) });
const kinds = ['part', 'support', 'prime', 'purge', 'scrap', 'waste'];
async function hold(name) {
  const book = join(folder, name);
  const of = (view) => views[view].get(book) ?? [];
  const stock = await json(book, 'stock');
  keyed(name, 'shelf', of('shelf'), stock, (r) => r.spool, [['material'], ['net_g'], ['tare_g'], ['ended'], ['value'], ['currency'], ['maker']]);
  keyed(name, 'shelf', of('shelf').map(seen), stock.map(seen), (r) => r.spool, [['weighed']]);
  const unseen = stock.filter((r) => r.flags.includes('never weighed') && !r.ended);
  keyed(name, 'never_weighed', of('never_weighed'), unseen, (r) => r.spool, [['net_g']]);
  for (const { month } of of('months')) {
    const waste = await json(book, 'waste', '--by', 'client', '--month', month);
    keyed(name, `waste ${month}`, of('waste_by_client_month').filter((r) => r.month === month), waste.rows, (r) => fold(r.key ?? r.client) + ' ' + r.currency,
      [...kinds.flatMap((k) => [[k + '_g'], [k + '_cost']]), ['unpriced_g']]);
  }
  for (const lot of new Set(of('lots').map((r) => fold(r.lot)))) {
    const jobs = new Map();
    const add = (to, key, grams) => to.set(key, (to.get(key) ?? 0) + Math.round(1000 * grams));
    for (const r of of('lots').filter((r) => fold(r.lot) === lot)) add(jobs, fold(r.job), Number(r.grams));
    const want = new Map();
    for (const r of (await json(book, 'waste', '--by', 'job', '--lot', of('lots').find((r) => fold(r.lot) === lot).lot)).rows)
      for (const k of ['part_g', 'support_g', 'prime_g', 'purge_g', 'scrap_g']) add(want, fold(r.key), r[k]);
    keyed(name, `lot ${lot}`, [...jobs].map(([job, mg]) => ({ job, mg })), [...want].map(([job, mg]) => ({ job, mg })), (r) => r.job, [['mg']]);
  }
  const all = await json(book, 'recent', '--all');
  const weeks = new Map();
  const printers = new Map();
  const material = new Map(stock.map((r) => [r.spool, r.material]));
  for (const r of all.filter((r) => r.file === 'consumption.csv')) {
    const day = new Date(r.at.slice(0, 10) + 'T00:00:00Z');
    day.setUTCDate(day.getUTCDate() - ((day.getUTCDay() + 6) % 7));
    const key = day.toISOString().slice(0, 10) + ' ' + material.get(r.spool);
    weeks.set(key, (weeks.get(key) ?? 0) + Math.round(1000 * r.grams));
    if (r.changes !== null) {
      const p = printers.get(fold(r.printer)) ?? { printer: r.printer, changes: 0, mg: 0 };
      p.changes += r.changes;
      p.mg += Math.round(1000 * r.purge_g);
      printers.set(fold(r.printer), p);
    }
  }
  keyed(name, 'use_by_week', of('use_by_week').map((r) => ({ key: r.week + ' ' + r.material, mg: Math.round(1000 * r.grams) })),
    [...weeks].map(([key, mg]) => ({ key, mg })), (r) => r.key, [['mg']]);
  keyed(name, 'purge_by_printer', of('purge_by_printer').map((r) => ({ ...r, mg: Math.round(1000 * r.purge_g), changes: Number(r.changes) })), [...printers.values()],
    (r) => fold(r.printer), [['mg'], ['changes']]);
}

const books = named.length ? named : readdirSync(folder).sort();
const waiting = [...books];
await Promise.all([1, 2].map(async () => {
  for (let name = waiting.shift(); name; name = waiting.shift()) await hold(name);
}));
for (const d of differences.slice(0, 30)) console.error(d);
console.log(`${books.length} books, ${compared} figures compared, ${differences.length} differences`);
process.exit(differences.length || !compared ? 1 : 0);
