-- The tables hold the CSV files as text, one column a contract column, blanks
-- round values and all. name() and instant() are spelt out below in SQL; only
-- simple case folding (fold) and SHA-256 come from outside.

-- Voids from the last to the first: a void is dead once a later live one names it.
CREATE TABLE dead AS
WITH RECURSIVE
ordered AS (
  SELECT row_number() OVER (ORDER BY max(t) DESC, entry DESC, max(content) DESC) AS n,
         name, min(target) AS target, count(*) > 1 AS clash
  FROM voids GROUP BY name
),
walk(n, names) AS (
  SELECT 0, '|'
  UNION ALL
  SELECT o.n, names || CASE WHEN o.clash OR instr(names, '|' || o.name || '|') > 0 THEN '' ELSE o.target || '|' END
  FROM walk JOIN ordered o ON o.n = walk.n + 1
)
SELECT names FROM walk ORDER BY n DESC LIMIT 1;

CREATE VIEW live_purchases AS SELECT * FROM purchases
 WHERE name IN (SELECT name FROM purchases GROUP BY name HAVING count(*) = 1)
   AND instr((SELECT names FROM dead), '|' || name || '|') = 0;
CREATE VIEW live_weighins AS SELECT * FROM weighins
 WHERE name IN (SELECT name FROM weighins GROUP BY name HAVING count(*) = 1)
   AND instr((SELECT names FROM dead), '|' || name || '|') = 0;
CREATE VIEW live_consumption AS SELECT * FROM consumption
 WHERE name IN (SELECT name FROM consumption GROUP BY name HAVING count(*) = 1)
   AND instr((SELECT names FROM dead), '|' || name || '|') = 0;

CREATE TABLE base_currency AS
 SELECT coalesce((SELECT value FROM settings WHERE setting = 'currency'), 'EUR') AS code;

CREATE TABLE buy AS
SELECT upper(spool) AS spool, fold(material) AS material, fold(core) AS core,
       CAST(round(net_g * 1000) AS INTEGER) AS net, tare_g, price, upper("from") AS source, t, entry, content,
       CASE currency WHEN '' THEN (SELECT code FROM base_currency) ELSE currency END AS currency
FROM (SELECT *, row_number() OVER (PARTITION BY upper(spool) ORDER BY t, entry, content) AS nth FROM live_purchases)
WHERE nth = 1;

-- One time line for each spool; kinds in the order of their ledgers.
CREATE TABLE happened AS
SELECT *, row_number() OVER (PARTITION BY spool ORDER BY t, kind, entry, content) AS pos FROM (
  SELECT source AS spool, 0 AS kind, t, entry, content, net AS mg, '' AS state, NULL AS gross FROM buy WHERE source <> ''
  UNION ALL
  SELECT upper(spool), 1, t, entry, content, 0, CASE state WHEN '' THEN 'loaded' ELSE state END,
         CASE gross_g WHEN '' THEN NULL ELSE CAST(round(gross_g * 1000) AS INTEGER) END FROM live_weighins
  UNION ALL
  SELECT upper(spool), 2, t, entry, content,
         CAST(round(part_g * 1000) + round(support_g * 1000) + round(prime_g * 1000) + round(purge_g * 1000) AS INTEGER), '', NULL
  FROM live_consumption
);

CREATE TABLE tare AS
SELECT spool, net, coalesce(
  (SELECT gross FROM happened h WHERE h.spool = b.spool AND state = 'empty' AND gross IS NOT NULL ORDER BY pos DESC LIMIT 1),
  CASE tare_g WHEN '' THEN NULL ELSE CAST(round(tare_g * 1000) AS INTEGER) END,
  (SELECT CASE c.tare_g WHEN '' THEN NULL ELSE CAST(round(c.tare_g * 1000) AS INTEGER) END
   FROM cores c WHERE b.core <> '' AND fold(c.core) = b.core LIMIT 1),
  (SELECT gross - net FROM happened h WHERE h.spool = b.spool AND pos = 1 AND kind = 1 AND state <> 'empty' AND gross > net)
) AS tare
FROM buy b;

CREATE TABLE balance AS
WITH ended AS (
  SELECT spool, min(pos) AS pos FROM happened WHERE state IN ('empty', 'discarded') GROUP BY spool
),
based AS (
  SELECT h.spool, max(h.pos) AS pos FROM happened h JOIN tare USING (spool)
  WHERE kind = 1 AND gross IS NOT NULL AND tare IS NOT NULL GROUP BY h.spool
)
SELECT t.spool, CASE
  WHEN ended.pos IS NOT NULL THEN 0
  ELSE coalesce((SELECT gross FROM happened h WHERE h.spool = t.spool AND h.pos = based.pos) - t.tare, t.net)
     - coalesce((SELECT sum(mg) FROM happened h WHERE h.spool = t.spool AND h.pos > coalesce(based.pos, 0)), 0)
  END AS mg
FROM tare t LEFT JOIN ended USING (spool) LEFT JOIN based USING (spool);

-- A blank price is a share of the old spool's, so a gram costs what it cost there.
CREATE TABLE gram AS
WITH RECURSIVE trail(spool, at) AS (
  SELECT spool, spool FROM buy
  UNION ALL
  SELECT trail.spool, old.spool FROM trail JOIN buy here ON here.spool = trail.at JOIN buy old ON old.spool = here.source
  WHERE here.price = ''
)
SELECT own.spool, CAST(priced.price AS REAL) / priced.net * 1000 AS cost, coalesce(priced.currency, own.currency) AS currency
FROM buy own LEFT JOIN (SELECT trail.spool, buy.* FROM trail JOIN buy ON buy.spool = trail.at WHERE buy.price <> '') priced
ON priced.spool = own.spool;

CREATE TABLE waste AS
SELECT client, currency,
       sum(part) AS part, sum(support) AS support, sum(prime) AS prime, sum(purge) AS purge, sum(scrap) AS scrap,
       total(part * cost) / 1000 AS part_cost, total(support * cost) / 1000 AS support_cost, total(prime * cost) / 1000 AS prime_cost,
       total(purge * cost) / 1000 AS purge_cost, total(scrap * cost) / 1000 AS scrap_cost,
       sum(CASE WHEN cost IS NULL THEN part + support + prime + purge + scrap ELSE 0 END) AS unpriced
FROM (
  SELECT fold(c.client) AS client, g.currency, g.cost,
         (outcome <> 'failed') * round(part_g * 1000) AS part, (outcome <> 'failed') * round(support_g * 1000) AS support,
         (outcome <> 'failed') * round(prime_g * 1000) AS prime, (outcome <> 'failed') * round(purge_g * 1000) AS purge,
         (outcome = 'failed') * (round(part_g * 1000) + round(support_g * 1000) + round(prime_g * 1000) + round(purge_g * 1000)) AS scrap
  FROM live_consumption c JOIN gram g ON g.spool = upper(c.spool)
)
GROUP BY client, currency;
