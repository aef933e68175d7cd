-- Account at the end of the last stored interval against the meter's own truth at that instant.
WITH account AS (
  SELECT run.meter, run.counter, m.name, run.step,
         run.base + coalesce((SELECT sum(CASE run.counter WHEN 0 THEN import ELSE export END) FROM interval AS i
                              WHERE i.meter = run.meter AND i.ts >= run.base_s), 0) AS account,
         (SELECT max(ts) FROM interval AS i WHERE i.meter = run.meter) + 10 AS at_s
  FROM run JOIN meter AS m ON m.meter = run.meter WHERE run.counter < 2 AND run.ended IS NULL),
begin AS (
  SELECT meter AS name, min(rowid), register_import_mwh - import_mwh AS import0, register_export_mwh - export_mwh AS export0
  FROM truth GROUP BY meter),
shown AS (
  SELECT a.name, CASE a.counter WHEN 0 THEN 'import' ELSE 'export' END AS counter, a.account,
         CASE a.counter WHEN 0 THEN b.import0 + t.import_mwh ELSE b.export0 + t.export_mwh END AS truth, a.step
  FROM account AS a JOIN begin AS b USING (name)
  JOIN truth AS t ON t.meter = a.name AND CAST(t.utc_s AS REAL) = a.at_s)
SELECT name, counter, account, truth, account - truth AS difference, step AS allowed,
       CASE WHEN abs(account - truth) <= step + 20 THEN 'right' ELSE 'WRONG' END AS verdict FROM shown
UNION ALL
SELECT 'meters compared', '', count(*), '', '', '', CASE WHEN count(*) >= 8 THEN 'right' ELSE 'WRONG: too few' END FROM shown;
