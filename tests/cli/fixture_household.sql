-- An invented site: a roof and a grid meter, March 2026; 12 March filled, 20 March with a hole
INSERT INTO setting VALUES(1, 1772319600000, 'boot', 0, 'hash1', 'Hill House', 'Europe/Berlin', '2026a', 300, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 7, 'Heat pump', 'branch', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(1, 1, 1, 1772319600000, 0, 0, 1000, 1772319600, 0, 1772319600, 0, '', 'first');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(2, 0, 1, 1772319600000, 0, 0, 1000, 1772319600, 0, 1772319600, 0, '', 'first');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(2, 1, 1, 1772319600000, 0, 0, 1000, 1772319600, 0, 1772319600, 0, '', 'first');
WITH RECURSIVE t(s) AS (SELECT 1772319600 UNION ALL SELECT s + 300 FROM t WHERE s + 300 < 1774872300)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, max(0, (((s + 3600) % 86400) - 21600) * (64800 - ((s + 3600) % 86400))) / 1400, CASE WHEN s >= 1773302400 AND s < 1773309600 THEN max(0, (((s + 3600) % 86400) - 21600) * (64800 - ((s + 3600) % 86400))) / 1400 ELSE 0 END, CASE WHEN s >= 1773302400 AND s < 1773309600 THEN 300 ELSE 0 END, CASE WHEN s >= 1773302400 AND s < 1773309600 THEN 1 ELSE 0 END, -(max(0, (((s + 3600) % 86400) - 21600) * (64800 - ((s + 3600) % 86400))) / 1400 * 12 / 1000), 23000 FROM t WHERE s < 1773997200 OR s >= 1773999000;
WITH RECURSIVE t(s) AS (SELECT 1772319600 UNION ALL SELECT s + 300 FROM t WHERE s + 300 < 1774872300)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, max((30000 + (s / 300 * 7919) % 40000) - max(0, (((s + 3600) % 86400) - 21600) * (64800 - ((s + 3600) % 86400))) / 1400, 0), max(max(0, (((s + 3600) % 86400) - 21600) * (64800 - ((s + 3600) % 86400))) / 1400 - (30000 + (s / 300 * 7919) % 40000), 0), 0, 0, 0, ((30000 + (s / 300 * 7919) % 40000) - max(0, (((s + 3600) % 86400) - 21600) * (64800 - ((s + 3600) % 86400))) / 1400) * 12 / 1000, 22950 FROM t;
WITH RECURSIVE t(s) AS (SELECT 1772319600 UNION ALL SELECT s + 300 FROM t WHERE s + 300 < 1774872300)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 7, 5000, NULL, 0, 0, 0, NULL, NULL FROM t;
-- closed days: the sums of their intervals
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20513 * 1024 + meter, 1772319600, 1772406000, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1772319600 AND ts < 1772406000 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20514 * 1024 + meter, 1772406000, 1772492400, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1772406000 AND ts < 1772492400 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20515 * 1024 + meter, 1772492400, 1772578800, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1772492400 AND ts < 1772578800 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20516 * 1024 + meter, 1772578800, 1772665200, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1772578800 AND ts < 1772665200 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20517 * 1024 + meter, 1772665200, 1772751600, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1772665200 AND ts < 1772751600 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20518 * 1024 + meter, 1772751600, 1772838000, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1772751600 AND ts < 1772838000 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20519 * 1024 + meter, 1772838000, 1772924400, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1772838000 AND ts < 1772924400 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20520 * 1024 + meter, 1772924400, 1773010800, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1772924400 AND ts < 1773010800 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20521 * 1024 + meter, 1773010800, 1773097200, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773010800 AND ts < 1773097200 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20522 * 1024 + meter, 1773097200, 1773183600, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773097200 AND ts < 1773183600 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20523 * 1024 + meter, 1773183600, 1773270000, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773183600 AND ts < 1773270000 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20524 * 1024 + meter, 1773270000, 1773356400, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773270000 AND ts < 1773356400 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20525 * 1024 + meter, 1773356400, 1773442800, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773356400 AND ts < 1773442800 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20526 * 1024 + meter, 1773442800, 1773529200, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773442800 AND ts < 1773529200 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20527 * 1024 + meter, 1773529200, 1773615600, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773529200 AND ts < 1773615600 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20528 * 1024 + meter, 1773615600, 1773702000, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773615600 AND ts < 1773702000 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20529 * 1024 + meter, 1773702000, 1773788400, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773702000 AND ts < 1773788400 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20530 * 1024 + meter, 1773788400, 1773874800, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773788400 AND ts < 1773874800 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20531 * 1024 + meter, 1773874800, 1773961200, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773874800 AND ts < 1773961200 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20532 * 1024 + meter, 1773961200, 1774047600, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1773961200 AND ts < 1774047600 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20533 * 1024 + meter, 1774047600, 1774134000, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1774047600 AND ts < 1774134000 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20534 * 1024 + meter, 1774134000, 1774220400, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1774134000 AND ts < 1774220400 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20535 * 1024 + meter, 1774220400, 1774306800, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1774220400 AND ts < 1774306800 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20536 * 1024 + meter, 1774306800, 1774393200, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1774306800 AND ts < 1774393200 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20537 * 1024 + meter, 1774393200, 1774479600, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1774393200 AND ts < 1774479600 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20538 * 1024 + meter, 1774479600, 1774566000, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1774479600 AND ts < 1774566000 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20539 * 1024 + meter, 1774566000, 1774652400, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1774566000 AND ts < 1774652400 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20540 * 1024 + meter, 1774652400, 1774738800, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 288, max(how & 1008)
  FROM interval WHERE ts >= 1774652400 AND ts < 1774738800 GROUP BY meter HAVING count(*) = 288;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20541 * 1024 + meter, 1774738800, 1774821600, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 276, max(how & 1008)
  FROM interval WHERE ts >= 1774738800 AND ts < 1774821600 GROUP BY meter HAVING count(*) = 276;
