-- after checks: a fault for each check in March 2026
CREATE TEMP TABLE fault(meter, ts, import, export);
-- 10 March 03:00 the house takes 3 kWh in a quarter of an hour (beyond 10 kW), 11 March the consumption is five times itself
INSERT INTO fault VALUES(2, 1773108000, 3100000, 0);
INSERT INTO fault SELECT 2, ts, import + 4 * (SELECT import FROM interval AS w WHERE w.id = i.id + 3), export FROM interval AS i
  WHERE meter = 2 AND ts >= 1773183600 AND ts < 1773270000;
-- 13 March the roof makes 1.6 kWh in a quarter of an hour at noon and 50 Wh at midnight, the west part all month a tenth less
INSERT INTO fault VALUES(1, 1773399600, NULL, 1600000), (1, 1773356400, NULL, 50000);
INSERT INTO fault SELECT 4, ts, NULL, export * 5 / 10 FROM interval WHERE meter = 4 AND ts >= 1772319600;
UPDATE interval SET (import, export) = (SELECT import, export FROM fault AS f WHERE f.meter = interval.meter AND f.ts = interval.ts)
  WHERE (meter, ts) IN (SELECT meter, ts FROM fault);
-- 14 March some of it filled and entered
UPDATE interval SET how = 1, estimated = import + export, unobserved = 900 WHERE meter = 2 AND ts >= 1773453600 AND ts < 1773457200;
UPDATE interval SET how = 2, estimated = import + export, unobserved = 900 WHERE meter = 2 AND ts >= 1773464400 AND ts < 1773478800;
UPDATE interval SET how = 4 WHERE meter = 2 AND ts >= 1773486000 AND ts < 1773489600;
-- 15 March the clock stepped, was set by hand, and an hour was dated late
UPDATE interval SET how = 16 WHERE meter = 1 AND ts = 1773565200;
UPDATE interval SET how = 32 WHERE meter = 1 AND ts >= 1773572400 AND ts < 1773576000;
INSERT INTO clock(boot, from_ms, offset_ms, source, doubt_ms, after_s)
  VALUES('boot', 1000, 1773564000000, 'hand', 60000, 1773563400);
INSERT INTO event(id, at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES(1, 1773565200000, 'boot', 1201000, 'clock', NULL, NULL, 1, 'stepped by +70000 ms');
INSERT INTO event(id, at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES(2, 1773566200000, 'boot', 2201000, 'rejected', 2, NULL, 12, 'active_import read 0 (raw 0x0) after 5000000');
INSERT INTO event(id, at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES(3, 1773567200000, 'boot', 3201000, 'meter_lost', 5, NULL, 1, 'no answer');
INSERT INTO event(id, at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES(4, NULL, 'dark', 5000, 'start', NULL, NULL, 1, '0.1');
INSERT INTO event(id, at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES(5, 1773570000000, 'boot', 6001000, 'start', NULL, NULL, 1, '0.1');
INSERT INTO held(boot, ms, meter, counter, account, shift, value, raw, step, unobserved, state)
  VALUES('dark', 900000, 5, 0, 5, 0, 5, 5, 1, 0, 'undated');
-- accounts and days as they were counted
UPDATE run SET anchor = base + (SELECT sum(iif(counter, export, import)) FROM interval AS i
  WHERE i.meter = run.meter AND ts >= run.base_s AND ts < run.anchor_s);
UPDATE run SET last = 5040000 + (SELECT sum(import) FROM interval AS i WHERE i.meter = 2 AND ts < 1773313200) WHERE last IS NOT NULL;
UPDATE run SET last_raw = last / 1000;
UPDATE day SET (import, export, estimated, unobserved) = (SELECT sum(import), sum(export), sum(estimated), sum(unobserved)
  FROM interval AS i WHERE i.meter = day.meter AND ts >= day.from_s AND ts < day.to_s) WHERE from_s >= 1772319600;
-- from here on nothing adds up: 5 March four intervals of the roof are gone, 6 March one stands off the grid
DELETE FROM interval WHERE meter = 1 AND ts >= 1772701200 AND ts < 1772704800;
INSERT INTO interval(id, import, export, estimated, unobserved, how) VALUES(1772791300 * 1024 + 3, NULL, 7, 0, 0, 0);
-- 7 March an interval was changed by 7 mWh, 8 March a closed day by 1 Wh
UPDATE interval SET import = import + 7 WHERE meter = 5 AND ts = 1772870400;
UPDATE day SET export = export + 1000 WHERE meter = 2 AND day = 20520;
-- the roof was exchanged on 20 March behind another transformer; the grid meter's last account left its register's step
UPDATE run SET to_ms = 1774004400000, last = base + (SELECT sum(export) FROM interval WHERE meter = 1 AND ts < 1774004400),
  anchor_s = 1774004400, ended = 'exchange' WHERE meter = 1;
UPDATE run SET anchor = last, last_raw = last / 1000 WHERE meter = 1;
INSERT INTO factor VALUES(6, 1, 1, 100, 5, 1, 1, 0);
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began)
  SELECT 1, 1, 6, 1774004400000, 0, 0, 1000, 1774004400, 0, 1774994400,
    (SELECT sum(export) FROM interval WHERE meter = 1 AND ts >= 1774004400), 'R-2', 'exchange';
UPDATE run SET last_raw = last_raw - 3 WHERE meter = 2 AND last IS NOT NULL;
-- a year before, the house used a third of it
UPDATE day SET import = import / 3 WHERE meter = 5 AND day < 20200;
UPDATE day SET import = import / 4, export = 3000000 WHERE meter = 2 AND day < 20200;
