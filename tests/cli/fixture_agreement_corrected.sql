-- after corrected: the ratio that was corrected was 150/5
INSERT INTO factor VALUES(2, 2, 1, 150, 5, 1, 1, 0);
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(2, 0, 2, 1772319600000, 0, 0, 1000, 1772319600, 0, 1772319600, 0, '', 'first');
