-- after agreement: the grid meter was set to 150/5 until July, to 100/5 from then on
INSERT INTO factor VALUES(2, 2, 1, 150, 5, 1, 1, 0);
INSERT INTO factor VALUES(3, 2, 1, 100, 5, 1, 1, 0);
UPDATE run SET factor = 2, to_ms = 1751328000000, last = 0, last_raw = 0, ended = 'settings' WHERE meter = 2;
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(2, 0, 3, 1751328000000, 0, 0, 1000, 1751328000, 0, 1751328000, 0, '', 'settings');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(2, 1, 3, 1751328000000, 0, 0, 1000, 1751328000, 0, 1751328000, 0, '', 'settings');
