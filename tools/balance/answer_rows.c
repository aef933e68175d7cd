/* Rows of an answer and the pieces they are made of. */
#include <stdlib.h>

#include "answer_build.h"
#include "number.h"

bool answer_is_fine(const struct answer *answer)
{
    return answer->unit < ROW_DAY || answer->what.fine;
}

/* Do the answer's rows get shares of reading periods? Hours would be made up. */
static bool takes_sealed(const struct answer *answer)
{
    return answer->sources && !answer_is_fine(answer);
}

/* End of the row that begins at start_s. */
static int64_t row_end(struct build *build, int64_t start_s, int64_t *day)
{
    const struct answer *answer = build->answer;
    int64_t end;
    switch (answer->unit) {
    case ROW_INTERVAL: {
        int32_t length = history_at(&answer->history, start_s, &build->arrangement)->interval_s;
        end = start_s - start_s % length + length;
        break;
    }
    case ROW_HOUR: {
        /* hours of the site's clock: after a change of offset by half an hour one is shorter */
        int64_t local = start_s + civil_offset(answer->civil, start_s);
        end = start_s + HOUR - local % HOUR;
        break;
    }
    case ROW_DAY:
        end = civil_day_start(answer->civil, ++*day);
        break;
    case ROW_WEEK:
        *day = period_week_start(*day) + 7;
        end = civil_day_start(answer->civil, *day);
        break;
    case ROW_MONTH:
        *day = period_next_month(*day);
        end = civil_day_start(answer->civil, *day);
        break;
    default:
        *day = period_next_year(*day);
        end = civil_day_start(answer->civil, *day);
        break;
    }
    return least(end, answer->to_s);
}

static int rows_add(struct build *build, int64_t from_s, int64_t to_s)
{
    struct answer *answer = build->answer;
    if (answer->row_count == build->room) {
        int32_t room = build->room ? build->room * 2 : 64;
        struct answer_row *rows = realloc(answer->rows, (size_t)room * sizeof(*rows));
        if (!rows)
            return -1;
        answer->rows = rows;
        build->room = room;
    }
    answer->rows[answer->row_count++] = (struct answer_row){
        .from_s = from_s,
        .to_s = to_s,
        .prorated = UNKNOWN,
        .doubt = { UNKNOWN, UNKNOWN, UNKNOWN },
        .balance = balance_nothing,
    };
    return 0;
}

/* Seconds of a piece in which intervals start. */
static int64_t grid_span(const struct answer_piece *piece, int32_t interval_s)
{
    int64_t from = piece->from_s + interval_s - 1, to = piece->to_s + interval_s - 1;
    return (to - to % interval_s) - (from - from % interval_s);
}

static int pieces_add(struct build *build, struct answer_piece piece)
{
    struct answer *answer = build->answer;
    if (answer->piece_count == answer->piece_room) {
        int32_t room = answer->piece_room ? answer->piece_room * 2 : 64;
        struct answer_piece *pieces = realloc(answer->pieces, (size_t)room * sizeof(*pieces));
        if (!pieces)
            return -1;
        answer->pieces = pieces;
        answer->piece_room = room;
    }
    piece.sealed = sources_sealed(answer->sources, piece.from_s);
    piece.before = piece.from_s < answer->site.first_s;
    piece.arrangement = history_at(&answer->history, piece.from_s, &build->arrangement);
    piece.part.balance = balance_nothing;
    piece.part.span_s = grid_span(&piece, piece.arrangement->interval_s);
    if (piece.sealed != TERMS_ALL && !piece.before)
        answer->rows[piece.row].span_s += piece.to_s - piece.from_s;
    answer->pieces[answer->piece_count++] = piece;
    return 0;
}

/* Cuts a row where the record begins and where a source, or what is known of it, changes. */
static int pieces_make(struct build *build, int32_t row)
{
    const struct answer *answer = build->answer;
    int64_t to_s = least(answer->rows[row].to_s, answer->reach_s);
    /* what rows of an hour leave out in front of the first one is to be told too */
    bool leads = row == 0 && answer->sources && !takes_sealed(answer);
    int64_t from_s = leads ? answer->from_s : answer->rows[row].from_s;
    for (int64_t at_s = from_s, end_s; at_s < to_s; at_s = end_s) {
        end_s = least(sources_next(answer->sources, at_s), to_s);
        if (at_s < answer->site.first_s)
            end_s = least(end_s, answer->site.first_s);
        /* A hole in the record costs what both sources make together its day, in a year as in a month. */
        unsigned sealed = sources_sealed(answer->sources, at_s);
        if (sealed && sealed != TERMS_ALL)
            end_s = least(end_s, civil_day_start(answer->civil, civil_day_of(answer->civil, at_s) + 1));
        if (pieces_add(build, (struct answer_piece){ .from_s = at_s, .to_s = end_s, .row = row }) != 0)
            return -1;
    }
    return 0;
}

int rows_make(struct build *build, int64_t first_day)
{
    struct answer *answer = build->answer;
    int64_t first_s = answer->site.first_s, sealed_s, last_s, day = first_day;
    if (takes_sealed(answer)) {
        sources_reach(answer->sources, answer->from_s, answer->to_s, &sealed_s, &last_s);
        first_s = least(first_s, sealed_s);
        if (last_s > answer->reach_s)
            answer->reach_s = least(last_s, answer->to_s);
    }
    for (int64_t start = answer->from_s; start < answer->reach_s;) {
        int64_t end = row_end(build, start, &day);
        if (end > first_s && end > start &&
            (rows_add(build, start, end) != 0 || pieces_make(build, answer->row_count - 1) != 0))
            return -1;
        start = end;
    }
    size_t slots = answer->history.slot_count ? (size_t)answer->history.slot_count : 1;
    answer->observed_s = calloc((size_t)answer->row_count + 1, slots * sizeof(*answer->observed_s));
    return answer->observed_s ? 0 : -1;
}

/* ---- what sealed meters say ---- */

static void join_piece(struct build *build, struct answer_piece *piece)
{
    struct answer *answer = build->answer;
    struct answer_row *row = &answer->rows[piece->row];
    int64_t energy[TERM_COUNT];
    /* storage and generators are known of from the record's begin on */
    const int32_t *count = piece->arrangement->count;
    if (piece->before || count[USE_STORAGE] + count[USE_GENERATOR] == 0)
        piece->part.others_s = piece->part.span_s;
    for (int32_t t = 0; t < TERM_COUNT; t++) {
        bool sealed = piece->sealed & 1U << t && takes_sealed(answer);
        energy[t] = sealed ? sources_energy(answer->sources, (enum balance_term)t, piece->from_s, piece->to_s)
                           : UNKNOWN;
        if (energy[t] == UNKNOWN)
            continue;
        row->sources |= SOURCE_SEALED;
        build->cells++;
    }
    struct balance joined = balance_join(piece->arrangement, &piece->part, piece->sealed, energy);
    balance_add(&row->balance, &joined);
}

static void add_sealed(struct build *build)
{
    struct answer *answer = build->answer;
    for (int32_t i = 0; i < answer->piece_count; i++)
        if (answer->pieces[i].sealed)
            join_piece(build, &answer->pieces[i]);
}

static void mark_sealed(const struct answer *answer, struct answer_row *row)
{
    row->prorated = sources_prorated(answer->sources, row->from_s, row->to_s);
    if (row->prorated != UNKNOWN && row->prorated != 0)
        row->flags |= ROW_PRORATED;
    if (sources_guessed(answer->sources, row->from_s, row->to_s))
        row->flags |= ROW_GUESSED;
}

unsigned answer_sealed_terms(const struct answer *answer)
{
    unsigned terms = 0;
    for (int32_t i = 0; i < answer->piece_count; i++)
        terms |= answer->pieces[i].sealed;
    return terms;
}

/* ---- sums ---- */

int64_t answer_observed_share(const struct answer_row *row)
{
    return number_share_down(row->span_s - row->lost_s, row->span_s);
}

/* Index of the first piece that ends after an instant: a month of intervals has thousands. */
static int32_t first_piece(const struct answer *answer, int64_t from_s)
{
    int32_t low = 0, high = answer->piece_count;
    while (low < high) {
        int32_t middle = low + (high - low) / 2;
        if (answer->pieces[middle].to_s <= from_s)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

int64_t answer_used_s(const struct answer *answer, int32_t slot, int64_t from_s, int64_t to_s)
{
    int64_t used = 0;
    for (int32_t i = first_piece(answer, from_s); i < answer->piece_count && answer->pieces[i].from_s < to_s;
         i++) {
        const struct answer_piece *piece = &answer->pieces[i];
        int64_t begin_s = piece->from_s > from_s ? piece->from_s : from_s;
        if (!piece->before && piece->to_s > begin_s)
            used += history_used_s(&answer->history, slot, piece->sealed, begin_s, least(piece->to_s, to_s));
    }
    return used;
}

/* What the least observed meter was not observed, in each row and in the whole span. */
static void count_lost(struct answer *answer)
{
    struct answer_row *total = &answer->total;
    for (int32_t slot = 0; slot < answer->history.slot_count; slot++) {
        int64_t lost_s = 0;
        for (int32_t i = 0; i < answer->row_count; i++) {
            struct answer_row *row = &answer->rows[i];
            int64_t here = answer->observed_s[(size_t)i * (size_t)answer->history.slot_count + (size_t)slot];
            int64_t lost = answer_used_s(answer, slot, row->from_s, row->to_s) - here;
            row->lost_s = lost > row->lost_s ? lost : row->lost_s;
            lost_s += lost;
        }
        total->lost_s = lost_s > total->lost_s ? lost_s : total->lost_s;
    }
}

void rows_add_up(struct build *build)
{
    struct answer *answer = build->answer;
    struct answer_row *total = &answer->total;
    add_sealed(build);
    *total = (struct answer_row){
        .from_s = answer->from_s,
        .to_s = answer->to_s,
        .prorated = UNKNOWN,
        .doubt = { UNKNOWN, UNKNOWN, UNKNOWN },
        .balance = balance_nothing,
    };
    for (int32_t i = 0; i < answer->row_count; i++) {
        struct answer_row *row = &answer->rows[i];
        if (takes_sealed(answer))
            mark_sealed(answer, row);
        balance_add(&total->balance, &row->balance);
        total->flags |= row->flags & ~ROW_PRORATED;
        total->sources |= row->sources;
        total->span_s += row->span_s;
    }
    if (takes_sealed(answer))
        mark_sealed(answer, total);
    count_lost(answer);
}
