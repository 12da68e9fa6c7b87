-- Views over the CSV files of tarebook books, for DuckDB 1.2 or later. They read the files each time: nothing is copied.
-- Made by: tarebook sql. Make them again when a book gets a file or a column that it lacked before.
--
-- Figures of the book, each named by its folder in the column book:
--   shelf                  spools: what is on each by the book, what it is worth
--   never_weighed          spools on the shelf that no scale has seen
--   use_by_week            grams by week (its Monday) and material
--   waste_by_client_month  grams and rounded cost, as tarebook waste --by client --month M
--   purge_by_printer       grams of purge a change, of rows that know their changes
--   lots                   the jobs that each lot went into
--   conflicts              entries that stand with different contents: none of these rows counts
-- and the rows that count, with figures as numbers: bought, weighed, moved, consumed. Those of a spool that is not in bought count
-- nowhere: join them with it.
--
-- Grams are DECIMAL(18,3). A price of a gram is a fraction: costs are summed in units of 1e-18 and rounded once, from 12 decimals.

CREATE OR REPLACE MACRO tidy(x) AS CASE WHEN contains(x, ' ') OR contains(x, chr(9)) OR contains(x, chr(13))
  THEN trim(replace(x, chr(13) || chr(10), chr(10)), ' ' || chr(9)) ELSE coalesce(x, '') END;
-- Names are the same name in any case. DuckDB takes the Turkish letters İ and ı for an i as well, which the program does not: no name holds
-- the control characters that keep them apart.
CREATE OR REPLACE MACRO fold(x) AS lower(upper(replace(replace(x, 'İ', chr(1) || 'i'), 'ı', chr(2) || 'i')));
CREATE OR REPLACE MACRO grams_of(x) AS CAST(nullif(x, '') AS DECIMAL(18, 3));
CREATE OR REPLACE MACRO mg(x) AS CAST(1000 * x AS HUGEINT);
CREATE OR REPLACE MACRO instant(x) AS epoch_ns(CAST(x AS TIMESTAMP_NS)); -- nanoseconds, UTC
CREATE OR REPLACE MACRO book_of(file) AS regexp_replace(file, '[/\\][^/\\]*$', '');
CREATE OR REPLACE MACRO content_of(texts) AS array_to_string([tidy(text) FOR text IN texts], chr(31));
CREATE OR REPLACE MACRO late(name, x) AS CASE WHEN tidy(x) = '' THEN '' ELSE chr(31) || name || '=' || tidy(x) END;
-- A row without an entry is named by its content.
CREATE OR REPLACE MACRO id_of(file, entry, content) AS CASE WHEN tidy(entry) = ''
  THEN upper(substr(sha256(file || chr(31) || chr(31) || content || chr(10)), 1, 26)) ELSE upper(tidy(entry)) END;
CREATE OR REPLACE MACRO order_of(entry, content) AS CASE WHEN tidy(entry) = '' THEN ' ' || content ELSE upper(tidy(entry)) END;
CREATE OR REPLACE MACRO decimals_of(code) AS CASE
  WHEN code IN ('BIF', 'CLP', 'DJF', 'GNF', 'ISK', 'JPY', 'KMF', 'KRW', 'PYG', 'RWF', 'UGX', 'UYI', 'VND', 'VUV', 'XAF', 'XOF', 'XPF') THEN 0
  WHEN code IN ('BHD', 'IQD', 'JOD', 'KWD', 'LYD', 'OMR', 'TND') THEN 3
  WHEN code IN ('CLF', 'UYW') THEN 4
  ELSE 2 END;
CREATE OR REPLACE MACRO minor_of(code) AS CAST( -- a minor unit, in units of 1e-12
  CASE decimals_of(code) WHEN 2 THEN 10000000000 WHEN 0 THEN 1000000000000 WHEN 3 THEN 1000000000 ELSE 100000000 END AS HUGEINT);
CREATE OR REPLACE MACRO worth(mg, price_micro, price_mg) AS mg * price_micro * 1000000000000 // price_mg;
CREATE OR REPLACE MACRO near(cost) AS (cost + 500000) // 1000000;
CREATE OR REPLACE MACRO floor_of(cost, code) AS near(cost) // minor_of(code);
CREATE OR REPLACE MACRO rest_of(cost, code) AS near(cost) % minor_of(code);
CREATE OR REPLACE MACRO half_up(cost, code) AS (near(cost) + minor_of(code) // 2) // minor_of(code);
CREATE OR REPLACE MACRO in_money(units, code) AS CAST(units * minor_of(code) // 100000000 AS DECIMAL(18, 0)) * 0.0001;
CREATE OR REPLACE MACRO thousandths(n) AS CAST(coalesce(n, 0) AS DECIMAL(18, 0)) * 0.001;
-- Files with the same columns are read fast; of others the header of each has to be looked at before.
CREATE OR REPLACE MACRO read_alike(files) AS TABLE SELECT * FROM read_csv(files, header = true, delim = ',', quote = '"', escape = '"',
  comment = '', all_varchar = true, union_by_name = false, filename = 'book_file', null_padding = true, strict_mode = false, parallel = false);
CREATE OR REPLACE MACRO read_mixed(files) AS TABLE SELECT * FROM read_csv(files, header = true, delim = ',', quote = '"', escape = '"',
  comment = '', all_varchar = true, union_by_name = true, filename = 'book_file', null_padding = true, strict_mode = false, parallel = false);

-- The files as they are: every column is there as text, blank where the file lacks it.

CREATE OR REPLACE VIEW all_settings AS
SELECT book_of(book_file) AS book, fold(setting) AS setting, value FROM (SELECT tidy(COLUMNS(*)) FROM (
  SELECT NULL::VARCHAR AS setting, NULL::VARCHAR AS value, NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {settings.csv}));

CREATE OR REPLACE VIEW all_cores AS
SELECT DISTINCT book_of(book_file) AS book, fold(core) AS core, grams_of(tare_g) AS tare_g FROM (SELECT tidy(COLUMNS(*)) FROM (
  SELECT NULL::VARCHAR AS core, NULL::VARCHAR AS tare_g, NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {cores.csv})) WHERE core <> '';

CREATE OR REPLACE VIEW all_materials AS
SELECT DISTINCT book_of(book_file) AS book, material FROM (SELECT tidy(COLUMNS(*)) FROM (
  SELECT NULL::VARCHAR AS material, NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {materials.csv})) WHERE material <> '';

CREATE OR REPLACE VIEW all_clients AS
SELECT book_of(book_file) AS book, client FROM (SELECT tidy(COLUMNS(*)) FROM (
  SELECT NULL::VARCHAR AS client, NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {clients.csv})) WHERE client <> '';

CREATE OR REPLACE VIEW all_printers AS
SELECT book_of(book_file) AS book, printer FROM (SELECT tidy(COLUMNS(*)) FROM (
  SELECT NULL::VARCHAR AS printer, NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {printers.csv})) WHERE printer <> '';

CREATE OR REPLACE VIEW all_voids AS
SELECT tidy(COLUMNS(*)), book_of(book_file) AS book, 'voids.csv' AS file_name, instant(tidy("at")) AS ns, content_of(["at", target, why]) AS content,
  id_of(file_name, entry, content) AS id, order_of(entry, content) AS ord
FROM (
  SELECT NULL::VARCHAR AS entry, NULL::VARCHAR AS "at", NULL::VARCHAR AS target, NULL::VARCHAR AS why, NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {voids.csv}) WHERE tidy("at") <> '';

CREATE OR REPLACE VIEW all_purchases AS
SELECT tidy(COLUMNS(*)), book_of(book_file) AS book, 'purchases.csv' AS file_name, instant(tidy("at")) AS ns,
  content_of(["at", spool, material, colour, swatch, maker, lot, diameter_mm, net_g, core, tare_g, price, currency, supplier, place, "from", note])
    || late('gross_g', gross_g) || late('scale', scale) AS content,
  id_of(file_name, entry, content) AS id, order_of(entry, content) AS ord
FROM (
  SELECT NULL::VARCHAR AS entry, NULL::VARCHAR AS "at", NULL::VARCHAR AS spool, NULL::VARCHAR AS material, NULL::VARCHAR AS colour,
    NULL::VARCHAR AS swatch, NULL::VARCHAR AS maker, NULL::VARCHAR AS lot, NULL::VARCHAR AS diameter_mm, NULL::VARCHAR AS net_g,
    NULL::VARCHAR AS core, NULL::VARCHAR AS tare_g, NULL::VARCHAR AS price, NULL::VARCHAR AS currency, NULL::VARCHAR AS supplier,
    NULL::VARCHAR AS place, NULL::VARCHAR AS "from", NULL::VARCHAR AS gross_g, NULL::VARCHAR AS scale, NULL::VARCHAR AS note,
    NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {purchases.csv}) WHERE tidy("at") <> '';

CREATE OR REPLACE VIEW all_weighins AS
SELECT tidy(COLUMNS(*)), book_of(book_file) AS book, 'weighins.csv' AS file_name, instant(tidy("at")) AS ns, content_of(["at", spool, gross_g, scale, state, note]) AS content,
  id_of(file_name, entry, content) AS id, order_of(entry, content) AS ord
FROM (
  SELECT NULL::VARCHAR AS entry, NULL::VARCHAR AS "at", NULL::VARCHAR AS spool, NULL::VARCHAR AS gross_g, NULL::VARCHAR AS scale,
    NULL::VARCHAR AS state, NULL::VARCHAR AS note, NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {weighins.csv}) WHERE tidy("at") <> '';

CREATE OR REPLACE VIEW all_moves AS
SELECT tidy(COLUMNS(*)), book_of(book_file) AS book, 'moves.csv' AS file_name, instant(tidy("at")) AS ns, content_of(["at", spool, place, note]) AS content,
  id_of(file_name, entry, content) AS id, order_of(entry, content) AS ord
FROM (
  SELECT NULL::VARCHAR AS entry, NULL::VARCHAR AS "at", NULL::VARCHAR AS spool, NULL::VARCHAR AS place, NULL::VARCHAR AS note,
    NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {moves.csv}) WHERE tidy("at") <> '';

CREATE OR REPLACE VIEW all_consumption AS
SELECT tidy(COLUMNS(*)), book_of(book_file) AS book, 'consumption.csv' AS file_name, instant(tidy("at")) AS ns,
  content_of(["at", job, client, printer, spool, part_g, support_g, prime_g, purge_g, changes, outcome, basis, note])
    || late('slot', slot) || late('file', file) AS content,
  id_of(file_name, entry, content) AS id, order_of(entry, content) AS ord
FROM (
  SELECT NULL::VARCHAR AS entry, NULL::VARCHAR AS "at", NULL::VARCHAR AS job, NULL::VARCHAR AS client, NULL::VARCHAR AS printer,
    NULL::VARCHAR AS spool, NULL::VARCHAR AS part_g, NULL::VARCHAR AS support_g, NULL::VARCHAR AS prime_g, NULL::VARCHAR AS purge_g,
    NULL::VARCHAR AS changes, NULL::VARCHAR AS outcome, NULL::VARCHAR AS basis, NULL::VARCHAR AS slot, NULL::VARCHAR AS file,
    NULL::VARCHAR AS note, NULL::VARCHAR AS book_file WHERE false
  UNION ALL BY NAME SELECT * FROM {consumption.csv}) WHERE tidy("at") <> '';

-- A void hides its target, unless a later void that counts hides the void. So voids of voids are gone through one by one, the last first.

CREATE OR REPLACE VIEW hidden AS
WITH RECURSIVE rows AS MATERIALIZED (
  SELECT book, id, upper(target) AS target, ns, ord, min(content) OVER (PARTITION BY book, id) <> max(content) OVER (PARTITION BY book, id) AS twice
  FROM all_voids),
chain AS MATERIALIZED (
  SELECT *, row_number() OVER (PARTITION BY book ORDER BY ns DESC, ord DESC) AS n FROM rows
  WHERE (book, id) IN (SELECT (book, target) FROM rows) OR (book, target) IN (SELECT (book, id) FROM rows)),
walk AS (
  SELECT DISTINCT book, CAST(0 AS BIGINT) AS n, CAST([] AS VARCHAR[]) AS hides, CAST([] AS VARCHAR[]) AS dead FROM chain
  UNION ALL
  SELECT w.book, c.n, CASE WHEN c.twice OR list_contains(w.hides, c.id) THEN w.hides ELSE list_append(w.hides, c.target) END,
    CASE WHEN list_contains(w.hides, c.id) THEN list_append(w.dead, c.id) ELSE w.dead END
  FROM walk w JOIN chain c ON c.book = w.book AND c.n = w.n + 1),
dead AS (SELECT book, unnest(arg_max(dead, n)) AS id FROM walk GROUP BY book)
SELECT DISTINCT book, target AS id FROM rows ANTI JOIN dead USING (book, id) WHERE NOT twice;

-- The rows that count. An entry that stands twice with the same content is one row; with different contents none of them counts.

CREATE OR REPLACE MACRO once(rows) AS TABLE FROM query_table(rows) QUALIFY row_number() OVER (PARTITION BY book, id) = 1
  AND min(content) OVER (PARTITION BY book, id) = max(content) OVER (PARTITION BY book, id);

CREATE OR REPLACE VIEW bought AS
WITH RECURSIVE spools AS MATERIALIZED ( -- of two purchases of one spool the earlier one counts
  SELECT book, upper(spool) AS spool, "at", ns, material, colour, maker, lot, place, core, grams_of(net_g) AS net_g, grams_of(tare_g) AS tare_g,
    grams_of(gross_g) AS gross_g, price, upper(currency) AS currency, upper("from") AS wound_off
  FROM once('all_purchases') ANTI JOIN hidden USING (book, id)
  QUALIFY row_number() OVER (PARTITION BY book, upper(spool) ORDER BY ns, ord) = 1),
origin AS ( -- what is blank of a spool that was wound off another is that one's, and so on; its price of a gram too
  SELECT book, spool, spool AS source, 0 AS depth FROM spools
  UNION ALL
  SELECT o.book, o.spool, s.wound_off, o.depth + 1 FROM origin o JOIN spools s ON s.book = o.book AND s.spool = o.source
  WHERE s.wound_off <> '' AND o.depth < 50),
origins AS (
  SELECT o.book, o.spool, arg_min(s.maker, o.depth) FILTER (s.maker <> '') AS maker, arg_min(s.lot, o.depth) FILTER (s.lot <> '') AS lot,
    arg_min(struct_pack(micro := CAST(1000000 * CAST(nullif(s.price, '') AS DECIMAL(24, 6)) AS HUGEINT), net := mg(s.net_g), currency := s.currency), o.depth)
      FILTER (s.price <> '') AS priced
  FROM origin o JOIN spools s ON s.book = o.book AND s.spool = o.source GROUP BY ALL),
money AS (SELECT book, max(upper(value)) FILTER (setting = 'currency' AND value <> '') AS currency FROM all_settings GROUP BY book)
SELECT s.* EXCLUDE (maker, lot, currency, price, material), coalesce(t.material, s.material) AS material, coalesce(o.maker, '') AS maker, coalesce(o.lot, '') AS lot,
  coalesce(nullif(CASE WHEN o.priced IS NULL THEN s.currency ELSE o.priced.currency END, ''), m.currency, 'EUR') AS currency,
  o.priced.micro AS price_micro, o.priced.net AS price_mg
FROM spools s JOIN origins o USING (book, spool) LEFT JOIN money m USING (book) LEFT JOIN all_materials t ON t.book = s.book AND fold(t.material) = fold(s.material);

CREATE OR REPLACE VIEW weighed AS
SELECT book, id AS entry, upper(spool) AS spool, "at", ns, ord, grams_of(gross_g) AS gross_g, scale, coalesce(nullif(lower(state), ''), 'loaded') AS state, note
FROM once('all_weighins') ANTI JOIN hidden USING (book, id);

CREATE OR REPLACE VIEW moved AS
SELECT book, id AS entry, upper(spool) AS spool, "at", ns, ord, place, note
FROM once('all_moves') ANTI JOIN hidden USING (book, id);

-- Few entries of a big ledger stand twice, and to sort its rows by entry takes longer than to read its files again: so entries that may
-- stand twice are looked for first, and only their rows are sorted.
CREATE OR REPLACE VIEW doubtful AS SELECT hash(book, id) AS named FROM all_consumption GROUP BY ALL HAVING count(*) > 1;
CREATE OR REPLACE VIEW sure_consumption AS FROM all_consumption WHERE hash(book, id) NOT IN (FROM doubtful);
CREATE OR REPLACE VIEW doubtful_consumption AS FROM all_consumption WHERE hash(book, id) IN (FROM doubtful);

CREATE OR REPLACE VIEW consumed AS
SELECT book, id AS entry, "at", ns, ord, CAST(substr("at", 1, 10) AS DATE) AS day, substr("at", 1, 7) AS month, job, client, printer, upper(spool) AS spool,
  coalesce(grams_of(part_g), 0) AS part_g, coalesce(grams_of(support_g), 0) AS support_g, coalesce(grams_of(prime_g), 0) AS prime_g,
  coalesce(grams_of(purge_g), 0) AS purge_g, CAST(nullif(changes, '') AS BIGINT) AS changes, coalesce(nullif(lower(outcome), ''), 'finished') AS outcome,
  coalesce(nullif(lower(basis), ''), 'sliced') AS basis, slot, note
FROM (FROM sure_consumption UNION ALL FROM once('doubtful_consumption')) ANTI JOIN hidden USING (book, id);

CREATE OR REPLACE VIEW conflicts AS
SELECT book, file_name AS file, id AS entry FROM (
  SELECT book, file_name, id, content FROM all_purchases UNION ALL SELECT book, file_name, id, content FROM all_weighins
  UNION ALL SELECT book, file_name, id, content FROM all_moves UNION ALL SELECT book, file_name, id, content FROM all_voids
  UNION ALL SELECT book, file_name, id, content FROM doubtful_consumption) ANTI JOIN hidden USING (book, id)
GROUP BY book, file_name, id HAVING min(content) <> max(content);

-- The shelf. A tare is the best one known: of the empty spool, typed with the purchase, of the core, or of the label by the first
-- weigh-in that came before any use. The book starts at the label's net, or at the gross with which an opened spool was booked;
-- the last weigh-in with a tare sets it, and what was used and wound off since comes off it.

CREATE OR REPLACE VIEW shelf AS
WITH spools AS MATERIALIZED (FROM bought),
uses AS MATERIALIZED (SELECT book, spool, ns, part_g + support_g + prime_g + purge_g AS grams FROM consumed),
windings AS MATERIALIZED (SELECT book, wound_off AS spool, ns, net_g AS grams FROM spools WHERE wound_off <> ''),
readings AS MATERIALIZED (
  SELECT w.*, row_number() OVER (PARTITION BY w.book, w.spool ORDER BY w.ns, w.ord) AS n, s.gross_g IS NOT NULL AND w.ns < s.ns AS early
  FROM weighed w JOIN spools s USING (book, spool)),
first_used AS (SELECT book, spool, min(ns) AS ns FROM uses GROUP BY ALL),
first_wound AS (SELECT book, spool, min(ns) AS ns FROM windings GROUP BY ALL),
weighings AS (
  SELECT book, spool, arg_max(gross_g, n) FILTER (state = 'empty' AND gross_g IS NOT NULL) AS empty_g,
    min(n) FILTER (state IN ('empty', 'discarded') AND NOT early) AS ended, arg_max("at", n) FILTER (gross_g IS NOT NULL AND NOT early) AS last_weighed,
    any_value(struct_pack(ns := ns, gross := gross_g, state := state)) FILTER (n = 1) AS first
  FROM readings GROUP BY ALL),
tares AS MATERIALIZED (
  SELECT s.*, w.ended, coalesce(w.last_weighed, CASE WHEN s.gross_g IS NOT NULL THEN s."at" END) AS last_weighed, coalesce(w.empty_g, s.tare_g, c.tare_g, CASE
    WHEN s.gross_g IS NOT NULL THEN CASE WHEN s.gross_g > s.net_g AND coalesce(s.ns <= u.ns, true) AND coalesce(s.ns <= o.ns, true) THEN s.gross_g - s.net_g END
    WHEN w.first.state <> 'empty' AND w.first.gross > s.net_g AND coalesce(w.first.ns <= u.ns, true) AND coalesce(w.first.ns < o.ns, true) THEN w.first.gross - s.net_g
    END) AS best_tare_g
  FROM spools s LEFT JOIN weighings w USING (book, spool) LEFT JOIN first_used u USING (book, spool) LEFT JOIN first_wound o USING (book, spool)
  LEFT JOIN all_cores c ON c.book = s.book AND c.core = fold(s.core)),
moved_book AS (
  SELECT r.book, r.spool, max(r.n) AS n, arg_max(r.ns, r.n) AS ns, arg_max(r.gross_g, r.n) AS gross_g
  FROM readings r JOIN tares t USING (book, spool)
  WHERE NOT r.early AND r.gross_g IS NOT NULL AND t.best_tare_g IS NOT NULL AND r.state IN ('loaded', 'dried') AND (t.ended IS NULL OR r.n < t.ended)
  GROUP BY ALL),
since AS MATERIALIZED (
  SELECT t.book, t.spool, m.ns AS weighed_ns, CASE WHEN m.ns IS NOT NULL THEN m.ns WHEN t.gross_g IS NOT NULL THEN t.ns END AS ns,
    CASE WHEN m.ns IS NOT NULL THEN m.gross_g - t.best_tare_g WHEN t.gross_g IS NOT NULL AND t.best_tare_g IS NOT NULL THEN t.gross_g - t.best_tare_g ELSE t.net_g END AS start_g
  FROM tares t LEFT JOIN moved_book m USING (book, spool)),
drawn AS (
  SELECT book, spool, sum(grams) AS grams FROM (
    SELECT u.book, u.spool, u.grams FROM uses u JOIN since s USING (book, spool) WHERE s.ns IS NULL OR u.ns >= s.ns
    UNION ALL
    SELECT o.book, o.spool, o.grams FROM windings o JOIN since s USING (book, spool)
    WHERE s.ns IS NULL OR CASE WHEN s.weighed_ns IS NULL THEN o.ns >= s.ns ELSE o.ns > s.ns END) GROUP BY ALL),
places AS (SELECT book, spool, arg_max(place, struct_pack(ns := ns, ord := ord)) AS place FROM moved GROUP BY ALL)
SELECT t.book, t.spool, t.material, t.colour, t.maker, t.lot, coalesce(p.place, t.place) AS brought_to, t.best_tare_g AS tare_g,
  CASE WHEN t.ended IS NULL THEN s.start_g - coalesce(d.grams, 0) ELSE 0 END AS net_g, t.last_weighed, t.ended IS NOT NULL AS ended,
  in_money(half_up(worth(greatest(CASE WHEN t.ended IS NULL THEN mg(s.start_g - coalesce(d.grams, 0)) ELSE 0 END, 0), t.price_micro, t.price_mg), t.currency), t.currency) AS value,
  t.currency, t.last_weighed IS NULL AS never_weighed
FROM tares t JOIN since s USING (book, spool) LEFT JOIN drawn d USING (book, spool) LEFT JOIN places p USING (book, spool);

CREATE OR REPLACE VIEW never_weighed AS SELECT book, spool, material, colour, net_g FROM shelf WHERE never_weighed AND NOT ended;

CREATE OR REPLACE VIEW use_by_week AS
SELECT c.book, CAST(date_trunc('week', c.day) AS DATE) AS week, s.material,
  sum(c.part_g) FILTER (c.outcome = 'finished') AS part_g, sum(c.support_g + c.prime_g + c.purge_g) FILTER (c.outcome = 'finished') AS waste_g,
  sum(c.part_g + c.support_g + c.prime_g + c.purge_g) FILTER (c.outcome = 'failed') AS scrap_g,
  sum(c.part_g + c.support_g + c.prime_g + c.purge_g) AS grams
FROM consumed c JOIN bought s USING (book, spool) GROUP BY ALL;

-- Cost of waste. Of each currency of a month the grand total is rounded half up, the totals of the five kinds by the largest remainder
-- to that, and each kind's cells over the clients by the largest remainder to the kind's total.

CREATE OR REPLACE VIEW waste_by_client_month AS
WITH taken AS MATERIALIZED (
  SELECT c.book, c.month, c.client, s.currency, s.price_micro, s.price_mg, min(struct_pack(ns := c.ns, ord := c.ord)) AS first,
    sum(c.part_g) FILTER (c.outcome = 'finished') AS part_g, sum(c.support_g) FILTER (c.outcome = 'finished') AS support_g,
    sum(c.prime_g) FILTER (c.outcome = 'finished') AS prime_g, sum(c.purge_g) FILTER (c.outcome = 'finished') AS purge_g,
    sum(c.part_g + c.support_g + c.prime_g + c.purge_g) FILTER (c.outcome = 'failed') AS scrap_g
  FROM consumed c JOIN bought s USING (book, spool) GROUP BY ALL),
priced AS ( -- every client has a cell of the first kind, so that one who took nothing has a row
  SELECT book, month, fold(client) AS client_key, currency, price_micro, price_mg, kind, mg(coalesce(grams, 0)) AS mg FROM (
    SELECT *, CASE kind WHEN 1 THEN part_g WHEN 2 THEN support_g WHEN 3 THEN prime_g WHEN 4 THEN purge_g ELSE scrap_g END AS grams
    FROM taken, (VALUES (1), (2), (3), (4), (5)) AS kinds(kind)) WHERE grams <> 0 OR kind = 1),
names AS (
  SELECT book, client_key, coalesce(any_value(t.client), any_value(spelled)) AS client
  FROM (SELECT book, fold(client) AS client_key, arg_min(client, first) AS spelled FROM taken GROUP BY ALL)
  LEFT JOIN (SELECT DISTINCT ON (book, fold(client)) book, fold(client) AS client_key, client FROM all_clients) t USING (book, client_key) GROUP BY ALL),
cells AS MATERIALIZED (
  SELECT book, month, client_key, currency, kind, sum(mg) AS mg, coalesce(sum(worth(mg, price_micro, price_mg)), 0) AS exact,
    coalesce(sum(mg) FILTER (price_mg IS NULL), 0) AS unpriced FROM priced GROUP BY ALL),
kinds AS (SELECT book, month, currency, kind, sum(exact) AS exact FROM cells GROUP BY ALL),
grand AS (SELECT book, month, currency, half_up(sum(exact), currency) AS total FROM kinds GROUP BY book, month, currency),
kind_totals AS MATERIALIZED (
  SELECT k.book, k.month, k.currency, k.kind, floor_of(k.exact, k.currency) + CASE WHEN row_number() OVER (PARTITION BY k.book, k.month, k.currency
      ORDER BY rest_of(k.exact, k.currency) DESC, near(k.exact) DESC, k.kind)
    <= g.total - sum(floor_of(k.exact, k.currency)) OVER (PARTITION BY k.book, k.month, k.currency) THEN 1 ELSE 0 END AS total
  FROM kinds k JOIN grand g USING (book, month, currency)),
rounded AS (
  SELECT c.*, n.client, floor_of(c.exact, c.currency) + CASE WHEN row_number() OVER (PARTITION BY c.book, c.month, c.currency, c.kind
      ORDER BY rest_of(c.exact, c.currency) DESC, near(c.exact) DESC, n.client)
    <= k.total - sum(floor_of(c.exact, c.currency)) OVER (PARTITION BY c.book, c.month, c.currency, c.kind) THEN 1 ELSE 0 END AS cost
  FROM cells c JOIN kind_totals k USING (book, month, currency, kind) JOIN names n USING (book, client_key))
SELECT book, month, client, currency,
  thousandths(sum(mg) FILTER (kind = 1)) AS part_g, thousandths(sum(mg) FILTER (kind = 2)) AS support_g, thousandths(sum(mg) FILTER (kind = 3)) AS prime_g,
  thousandths(sum(mg) FILTER (kind = 4)) AS purge_g, thousandths(sum(mg) FILTER (kind = 5)) AS scrap_g, thousandths(sum(mg) FILTER (kind > 1)) AS waste_g,
  in_money(coalesce(sum(cost) FILTER (kind = 1), 0), currency) AS part_cost, in_money(coalesce(sum(cost) FILTER (kind = 2), 0), currency) AS support_cost,
  in_money(coalesce(sum(cost) FILTER (kind = 3), 0), currency) AS prime_cost, in_money(coalesce(sum(cost) FILTER (kind = 4), 0), currency) AS purge_cost,
  in_money(coalesce(sum(cost) FILTER (kind = 5), 0), currency) AS scrap_cost, in_money(coalesce(sum(cost) FILTER (kind > 1), 0), currency) AS waste_cost,
  thousandths(sum(unpriced)) AS unpriced_g
FROM rounded GROUP BY book, month, client_key, client, currency;

CREATE OR REPLACE VIEW purge_by_printer AS
SELECT c.book, coalesce(any_value(p.printer), arg_min(c.printer, struct_pack(ns := c.ns, ord := c.ord))) AS printer, sum(c.changes) AS changes, sum(c.purge_g) AS purge_g,
  CAST(sum(c.purge_g) AS DOUBLE) / nullif(sum(c.changes), 0) AS purge_g_a_change
FROM consumed c SEMI JOIN bought USING (book, spool) LEFT JOIN (SELECT DISTINCT ON (book, fold(printer)) book, printer FROM all_printers) p ON p.book = c.book AND fold(p.printer) = fold(c.printer)
WHERE c.changes IS NOT NULL GROUP BY c.book, fold(c.printer);

CREATE OR REPLACE VIEW lots AS
SELECT c.book, any_value(s.maker) AS maker, any_value(s.lot) AS lot, arg_min(c.job, struct_pack(ns := c.ns, ord := c.ord)) AS job,
  min(c.day) AS first_day, list_sort(list(DISTINCT c.spool)) AS spools, sum(c.part_g + c.support_g + c.prime_g + c.purge_g) AS grams
FROM consumed c JOIN bought s USING (book, spool) WHERE s.lot <> '' GROUP BY c.book, fold(s.maker), fold(s.lot), fold(c.job);
