"$METERBOOK" --database household.record demand this; echo $?
"$METERBOOK" --database household.record demand --meter "Heat pmp"; echo $?
"$METERBOOK" --database household.record demand --meter Roof --of production; echo $?
"$METERBOOK" --database household.record demand --length 25min; echo $?
"$METERBOOK" --database household.record demand 2026-02; echo $?
"$METERBOOK" --database grid_alone.record demand all --of production; echo $?
