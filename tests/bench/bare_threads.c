/* links: */
/* The floor that the daemon is held against: a bare loop of one thread per
 * host, libmodbus, 20 floats a second, no disk, no account.
 *
 *     bare_threads FIRST_PORT COUNT SECONDS
 */
#include <modbus.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { MAX_HOSTS = 64, FLOATS = 20 };

struct host {
    pthread_t thread;
    int port;
    long seconds, polls;
    double sum;
};

static void *poll_host(void *argument)
{
    struct host *host = argument;
    modbus_t *modbus = modbus_new_tcp("127.0.0.1", host->port);
    struct timespec due;
    if (!modbus || modbus_connect(modbus) != 0 || modbus_set_slave(modbus, 1) != 0)
        return NULL;
    clock_gettime(CLOCK_REALTIME, &due);
    due.tv_nsec = 0;
    for (long i = 0; i < host->seconds; i++) {
        uint16_t registers[2 * FLOATS];
        due.tv_sec++;
        clock_nanosleep(CLOCK_REALTIME, TIMER_ABSTIME, &due, NULL);
        if (modbus_read_registers(modbus, 0, 2 * FLOATS, registers) != 2 * FLOATS)
            continue;
        for (int f = 0; f < FLOATS; f++)
            host->sum += (double)modbus_get_float_abcd(registers + 2 * f);
        host->polls++;
    }
    modbus_close(modbus);
    modbus_free(modbus);
    return NULL;
}

int main(int argc, char **argv)
{
    static struct host hosts[MAX_HOSTS];
    int count = argc > 3 ? (int)strtol(argv[2], NULL, 10) : 0;
    long polls = 0;
    if (count < 1 || count > MAX_HOSTS)
        return 2;
    for (int i = 0; i < count; i++) {
        hosts[i].port = (int)strtol(argv[1], NULL, 10) + i;
        hosts[i].seconds = strtol(argv[3], NULL, 10);
        if (pthread_create(&hosts[i].thread, NULL, poll_host, &hosts[i]) != 0)
            return 1;
    }
    for (int i = 0; i < count; i++) {
        pthread_join(hosts[i].thread, NULL);
        polls += hosts[i].polls;
    }
    printf("polls=%ld\n", polls);
    return polls != count * hosts[0].seconds;
}
