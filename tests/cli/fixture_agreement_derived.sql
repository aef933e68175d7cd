-- after derived: the collector says that deriving is good to 4.7 %
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began, doubt) VALUES(1023, 0, 1, 1777833000000, 0, 0, 1, 1777833000, 0, 1777833000, 0, '', 'first', 47);
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began, doubt) VALUES(1023, 1, 1, 1777833000000, 0, 0, 1, 1777833000, 0, 1777833000, 0, '', 'first', 47);
