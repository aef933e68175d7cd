# into the collector's account: measured rows stay, a gap is refined and keeps its sum, what comes
# after the frontier is left to the collector
cp logger.record e.record
sum() { sqlite3 e.record "SELECT sum(import) FROM interval WHERE meter = 2 AND ts >= 1777888800"; }
sum
{ echo 'time,House.import[Wh/interval]'
  for i in 11:45 12:00 12:15 12:30 12:45 13:00 13:15 15:30 15:45 16:00 16:15; do echo "2026-05-04 $i,130"; done; } >e.csv
enter() { "$METERBOOK" --database e.record enter --length 15min "$@" e.csv; }
enter && sum && enter && sum
sqlite3 e.record "SELECT strftime('%H:%M', ts, 'unixepoch'), import, estimated, unobserved, how FROM interval WHERE meter = 2"
