# energy whose dates are in doubt: counted, and told where an end of the span cuts through the doubt
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
answer() { echo "== $*"; "$METERBOOK" --database d.record --now 2026-03-30T12:07:07Z "$@"; }
# boot a by the network, that was not there from 2 to 8 March; boot b, from 10 March at noon, by the sun, to a quarter of an hour; boot c never got a clock,
# and boot d did, on 20 March at noon: nothing was read from 19 March at 18:00 to 20 March at 12:00;
# the same once more with boots e and f, from 23 March at 19:00 to 24 March at 12:00; on 20 March some of the roof's is missing
sqlite3 household.record ".backup d.record"
sqlite3 d.record "INSERT INTO clock(boot, from_ms, offset_ms, source, doubt_ms, after_s) VALUES('a', 5000, 1772319000000, 'network', 1000, 0),
    ('a', 86400000, 1772319000000, 'holdover', 1000, 0), ('a', 605000000, 1772319000000, 'network', 1000, 0),
    ('b', 60000, 1773140100000, 'sun', 900000, 1773140400), ('b', 259560000, 1773140100000, 'network', 1000, 0),
    ('d', 1000, 1774004300000, 'network', 1000, 0), ('f', 1000, 1774349990000, 'network', 1000, 0);
  INSERT INTO event(at_ms, boot, boot_ms, kind, count, text) VALUES(1772319001000, 'a', 1000, 'start', 1, ''),
    (NULL, 'c', 1000, 'start', 1, ''), (NULL, 'd', 500, 'start', 1, ''), (NULL, 'e', 1000, 'start', 1, ''), (1774349990000, 'f', 500, 'start', 1, '');
  INSERT INTO held(boot, ms, meter, counter, account, shift, value, raw, step, unobserved, state) VALUES('c', 4000, 2, 0, 1, 0, 1, 1, 1000, 0, 'undated'),
    ('e', 4000, 2, 0, 1, 0, 1, 1, 1000, 0, 'undated'), ('e', 4000, 2, 1, 1, 0, 1, 1, 1000, 0, 'undated');
  UPDATE interval SET how = 258, unobserved = 300, estimated = coalesce(import, 0) + coalesce(export, 0), power = NULL, voltage = NULL
    WHERE ts >= 1773939600 AND ts < 1774004100;
  UPDATE interval SET how = 258, unobserved = 300, estimated = coalesce(import, 0) + coalesce(export, 0), power = NULL, voltage = NULL
    WHERE ts >= 1774288800 AND ts < 1774350000;
  DELETE FROM day WHERE day IN (20531, 20532, 20535, 20536)"
answer month 2026-03 | head -9
answer --format csv month 2026-03 2>/dev/null | sed -n '/^from/p; /^2026-03-\(09\|1[0-4]\|19\|2[0-5]\)/p'
answer day 2026-03-03 | head -4
answer day 2026-03-05 | head -5
answer day 2026-03-11 | head -6
answer day 2026-03-19 | head -8
answer day 2026-03-23 | head -8
answer --by interval day 2026-03-24 | head -8
answer day 2026-03-21 | head -6
answer --format json day 2026-03-20 | sed -n '/"marks"/,/^  \],/p; /"totals"/p'
