# a cap on what export may take off, within a settlement that nets: as surplus, lost, paid by items
tariffs=$(dirname "$0")/../../config/tariffs
for cap in 'cap_percent = 60;' 'cap_kwh = 100; cap_days = 30; above_cap = "lose";' 'cap_percent = 60; above_cap = "pay";'; do
    item=; case $cap in *pay*) item='{ name = "above the cap"; of = "above_cap"; rate = 2; pays = true; },' ;; esac
    sed -e "s/items = ( *\$/items = ( $item/; s/netting = {/& $cap/" "$tariffs/slabs.tariff" >slabs.tariff
    cp "$tariffs/invented.contract" cap.contract
    echo "$cap"
    "$METERBOOK" -c invented/meterbook.conf --contract cap.contract bill 2024-02-15 2>&1 | sed -e 1,4d || exit
    "$METERBOOK" -c invented/meterbook.conf --contract cap.contract savings 2024 2>&1 | tail -1 || exit
done
