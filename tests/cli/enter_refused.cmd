# what is wrong with a file, by line; nothing is written
cp logger.record r.record
try() { printf "$1" >e.csv; shift; "$METERBOOK" --database r.record enter "$@" e.csv; echo "= $?"; }
try ''
try 'time\n'
try 'time,House.import[kWh]\n'
try 'zeit,House.import[kWh]\n'
try 'time,Hose.import[kWh]\n'
try 'time,Water.import[kWh]\n'
try 'time,3.import[kWh]\n'
try 'time,House.import[kW]\n'
try 'time,House.import[kvarh]\n'
try 'time,House.power[W]\n'
try 'time,House.imports[kWh]\n'
try 'time,House import\n'
try 'time,House.import[kWh],2.import[Wh]\n'
try 'time,House.import[kWh],House.export[kWh/interval]\n'
try 'time,House.import[kWh]\n2026-05-01 10:00,1\n2026-05-01 09:45,2\n'
try 'time,House.import[kWh]\n2026-05-01 10:00,1\n2026-05-01 10:00,1\n2026-05-01 10:15,1\n'
try 'time,House.import[kWh]\n2026-05-01 10:00,1\n2026-05-01 10:00,2\n'
try 'time,House.import[kWh]\n01/05/2026 10:00,1\n'
try 'time,House.import[kWh]\n2026-02-29 10:00,1\n'
try 'time,House.import[kWh]\n2026-05-01,1\n'
try 'time,House.import[kWh]\n2026-05-01 10:00,1.2.3\n'
try 'time;House.import[kWh]\n2026-05-01 10:00;1,2\n' --separator semicolon
try 'time,House.import[kWh]\n2026-05-01 10:00,-1\n'
try 'time,House.import[kWh]\n2026-05-01 10:00,99999999999999999999\n'
try 'time,House.import[kWh]\n2026-05-01 10:00,99999999999999\n'
try 'time,House.import[kWh]\n2026-05-01 10:00\n'
try 'time,House.import[kWh]\n2026-05-01 10:00,"1\n'
try 'time,House.import[kWh]\n2026-05-01 10:00,1"\n'
try 'time,House.import[kWh],House.export[kWh]\n2026-05-01 10:00,1,\n'
try 'time,House.import[kWh/interval]\n2026-05-01 10:00,1\n'
try 'time,House.import[kWh/interval]\n2026-05-01 10:00,1\n2026-05-01 10:15,1\n2026-05-01 10:20,1\n'
"$METERBOOK" --database r.record enter absent.csv; echo "= $?"
"$METERBOOK" --database r.record enter .; echo "= $?"
"$METERBOOK" --database r.record enter; echo "= $?"
"$METERBOOK" --database r.record enter --length 2d e.csv; echo "= $?"
"$METERBOOK" --database r.record enter --stamp middle e.csv; echo "= $?"
"$METERBOOK" --database absent.record enter e.csv; echo "= $?"
"$METERBOOK" --database newer.record enter e.csv; echo "= $?"
sqlite3 r.record "SELECT count(*) FROM interval; SELECT count(*) FROM run; SELECT count(*) FROM event"
