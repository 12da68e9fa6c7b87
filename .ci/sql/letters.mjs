// Holds the macro fold of the views that `tarebook sql` prints against the program's own folding of names, letter by letter:
// node letters.mjs VIEWS.sql LETTERS, where LETTERS has lines of a letter and its folded form, as numbers.
import { DuckDBInstance } from '@duckdb/node-api';
import { readFileSync } from 'node:fs';

const [views, letters] = process.argv.slice(2);
const db = await (await DuckDBInstance.create(':memory:')).connect();
await db.run(readFileSync(views, 'utf8'));
await db.run(`CREATE TABLE letters AS SELECT letter, folded, fold(chr(letter)) AS view_folded
  FROM read_csv('${letters.replaceAll("'", "''")}', header = false, columns = { letter: 'INTEGER', folded: 'INTEGER' })`);
const rows = async (sql) => (await db.runAndReadAll(sql)).getRowObjectsJson();
const differing = (same, apart) => `SELECT a.letter AS one, b.letter AS other, '${same}' AS same
  FROM letters a JOIN letters b USING (${same}) WHERE a.letter < b.letter AND a.${apart} <> b.${apart}`;
const wrong = await rows(`${differing('folded', 'view_folded')} UNION ALL ${differing('view_folded', 'folded')}`);
const shown = (letter) => `${String.fromCodePoint(letter)} (U+${letter.toString(16).toUpperCase().padStart(4, '0')})`;
for (const { one, other, same } of wrong) console.error(`${shown(one)} and ${shown(other)}: one letter to ${same === 'folded' ? 'the program, not to the views' : 'the views, not to the program'}`);
const [{ count, pairs }] = await rows('SELECT count(*) AS count, count(*) - count(DISTINCT folded) AS pairs FROM letters');
console.log(`${count} letters, ${pairs} of them folded, ${wrong.length} differences`);
process.exit(wrong.length || !(pairs > 0) ? 1 : 0);
