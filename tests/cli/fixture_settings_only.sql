-- An invented site: the collector has just started
INSERT INTO setting VALUES(1, 1777833000000, 'boot', 0, 'hash1', 'Mango Lane', 'Asia/Kolkata', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
