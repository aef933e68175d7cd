#include "net.h"

void net_init(struct net *net, int64_t length_ms)
{
    *net = (struct net){ .length_ms = length_ms };
}

int32_t net_add(struct net *net, int32_t meter, bool production)
{
    if (net->count == NET_MAX_METERS)
        return -1;
    net->sides[net->count] = (struct net_side){ .meter = meter, .production = production };
    return net->count++;
}

void net_now(struct net *net, int32_t side, int64_t account)
{
    net->sides[side].now = account;
    net->sides[side].fresh = true;
}

static void step_to(struct net *net, int64_t balance)
{
    int64_t x = balance - net->last;
    if (x > 0)
        net->import += x;
    else
        net->export -= x;
    net->last = balance;
}

static bool all_at(const struct net *net, int64_t boundary_ms)
{
    for (int32_t i = 0; i < net->count; i++)
        if (!net->sides[i].seen || net->sides[i].boundary_ms != boundary_ms)
            return false;
    return net->count > 0;
}

/* Consumption less production, now or at the last boundary. */
static int64_t balance(const struct net *net, bool at_boundary)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < net->count; i++) {
        const struct net_side *side = &net->sides[i];
        int64_t account = at_boundary ? side->fixed : side->now;
        sum += side->production ? -account : account;
    }
    return sum;
}

void net_step(struct net *net)
{
    for (int32_t i = 0; i < net->count; i++)
        if (!net->sides[i].fresh)
            return; /* a side that misses polls: no common instant */
    for (int32_t i = 0; i < net->count; i++)
        net->sides[i].fresh = false;
    if (net->live && all_at(net, net->frontier_ms))
        step_to(net, balance(net, false));
}

bool net_cross(struct net *net, int32_t side, int64_t boundary_ms, int64_t account, struct net_row *row)
{
    net->sides[side].seen = true;
    net->sides[side].boundary_ms = boundary_ms;
    net->sides[side].fixed = account;
    int64_t next = net->frontier_ms + net->length_ms;
    bool complete = net->live && all_at(net, next);
    if (complete) {
        step_to(net, balance(net, true));
        *row = (struct net_row){ net->frontier_ms, net->import, net->export };
        net->frontier_ms = next;
    } else if (all_at(net, boundary_ms)) {
        net->live = true;
        net->frontier_ms = boundary_ms;
        net->last = balance(net, true);
    } else {
        net->live = net->live && boundary_ms == next;
        return false;
    }
    net->import = net->export = 0;
    return complete;
}
