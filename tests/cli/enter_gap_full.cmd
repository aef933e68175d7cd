# more than the gap holds: refused with both sums, or shared out on request; then the same again
cp logger.record e.record
{ echo 'time,House.import[Wh/interval]'
  for i in 12:30 12:45 13:00 13:15 13:30 13:45; do echo "2026-05-04 $i,120"; done; } >e.csv
enter() { "$METERBOOK" --database e.record enter "$@" e.csv; echo "= $?"; }
enter; enter --fit; enter --fit
sqlite3 e.record "SELECT import, how FROM interval WHERE meter = 2 AND how > 3; SELECT sum(import) FROM interval WHERE meter = 2 AND ts >= 1777888800"
