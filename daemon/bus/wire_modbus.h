/* The real wire: Modbus RTU, TCP and RTU frames over TCP through libmodbus.
 * The only file that includes modbus.h. One thread uses one wire. */
#ifndef METERBOOK_WIRE_MODBUS_H
#define METERBOOK_WIRE_MODBUS_H

#include "config.h"
#include "wire.h"

struct wire_modbus;

/* Heap; NULL when memory is out. `bus` must outlive it. Waiting ends early
 * when stop_fd becomes readable; only an answer is waited for to its deadline. */
struct wire_modbus *wire_modbus_create(const struct config_bus *bus, int stop_fd);
void wire_modbus_destroy(struct wire_modbus *self);

struct wire wire_modbus_wire(struct wire_modbus *self);

#endif
