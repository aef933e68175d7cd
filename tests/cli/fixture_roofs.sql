-- An invented farm: five production meters, four of them in one plane. North grows from 4 to 6 kWp on 20 May, Mill
-- clips at its 3 kW, Shed makes half from 9 June and nothing more is read of it from 19 July on; hours from March to July 2026
INSERT INTO setting VALUES(1, 1772312400000, 'boot', 0, 'hash1', 'Terrace Farm', 'Africa/Nairobi', '2026a', 3600, 1000, '0.1',
'site = { name = "Terrace Farm"; time_zone = "Africa/Nairobi"; latitude = -1.0; longitude = 37.0; interval = 3600; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = (
  { number = 3; name = "Mill"; role = "production"; delivers = "export"; bus = "host"; unit_id = 3; map = "sunspec";
    rated_power = 5000; peak_power = 5000; azimuth = 0; tilt = 10; ac_rating = 3000; }
);
'), (2, 1779224400000, 'boot', 0, 'hash2', 'Terrace Farm', 'Africa/Nairobi', '2026a', 3600, 1000, '0.1', '# the same, North grown');
UPDATE setting SET text = (SELECT text FROM setting WHERE id = 1) WHERE id = 2;
WITH m(meter, name, peak, azimuth) AS (VALUES(1, 'North', 4000, 0), (2, 'House', 4000, 1), (3, 'Mill', 5000, 358), (4, 'Shed', 3000, 0), (5, 'East', 2000, 90)),
  s(setting) AS (VALUES(1), (2))
INSERT INTO meter_setting
  SELECT setting, meter, name, 'production', 'export', 0, 'netted', 1, 10000, iif(meter = 1 AND setting = 2, 6000, peak), azimuth, 10, '', 'hash' FROM m, s;
CREATE TEMP TABLE light AS
  WITH RECURSIVE t(s) AS (SELECT 1772312400 UNION ALL SELECT s + 3600 FROM t WHERE s + 3600 < 1785531600)
  SELECT s, (s + 10800) / 86400 - 20513 AS day, max(0, (l - 21600 + 1800) * (64800 - l - 1800)) / 6000 * (40 + ((s + 10800) / 86400 * 7919) % 61) / 100 AS wh
  FROM (SELECT s, (s + 10800) % 86400 AS l FROM t); -- times 10: mWh per kWp and hour, up to 0.78 kWh
INSERT INTO interval(id, import, export, estimated, unobserved, how)
  SELECT s * 1024 + 1, NULL, wh * iif(day >= 80, 6, 4) * 10, 0, 0, 0 FROM light UNION ALL
  SELECT s * 1024 + 2, NULL, wh * 41 , 0, 0, 0 FROM light UNION ALL
  SELECT s * 1024 + 3, NULL, min(wh * 50, 3000000), 0, 0, 0 FROM light UNION ALL
  SELECT s * 1024 + 4, NULL, wh * iif(day >= 100, 15, 30), 0, 0, 0 FROM light WHERE day < 140 UNION ALL
  SELECT s * 1024 + 5, NULL, wh * 18, 0, 0, 0 FROM light;
UPDATE interval SET estimated = export, unobserved = 3600, how = 2 WHERE meter = 2 AND ts / 86400 % 29 = 3;
DROP TABLE light;
