# ranks: energies, then other energies, then a counter over them, then the energies again
cp logger.record e.record
printf 'time,Roof.export[Wh/interval]\n2026-05-01 10:00,100\n2026-05-01 10:15,200\n2026-05-01 10:30,300\n' >e.csv
printf 'time,Roof.export[Wh/interval]\n2026-05-01 10:15,200\n2026-05-01 10:30,301\n2026-05-01 10:45,400\n' >other.csv
printf 'time,Roof.export[Wh]\n2026-05-01 10:15,1000\n2026-05-01 10:30,1201\n2026-05-01 10:45,1500\n' >counter.csv
enter() { "$METERBOOK" --database e.record enter "$@"; echo "= $?"; }
rows() { sqlite3 e.record "SELECT group_concat(export || ' by ' || how) FROM interval WHERE meter = 1"; }
enter e.csv; rows
enter other.csv; rows
enter --replace other.csv; rows
enter counter.csv; rows
enter e.csv; rows
