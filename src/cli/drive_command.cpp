#include <fmt/format.h>

#include <algorithm>

#include "cli/at_the_bench.hpp"
#include "cli/clock.hpp"
#include "cli/print.hpp"
#include "work/drive.hpp"

namespace ebbtide::cli {

int drive(const DriveOptions& options) {
    const auto sequence = work::sequence_named(options.sequence);
    if (!sequence)
        return complain({Fault::bad_input, fmt::format("'{}' is no sequence", options.sequence), "--sequence",
                         "Say planned, alternated or randomised"});
    const auto documents = work::documents_to_drive(options.order);
    if (!documents) return complain(documents.error());
    const auto about = work::bench_to_drive(options.bench_file, documents->bench);
    if (!about) return complain(about.error());
    AtTheBench person(options.live, options.live.dry_run || options.commands,
                      fmt::format("order {}: {}", documents->order.id, documents->order.title));
    auto at_hand = person.bench_at_hand(*about);
    if (!at_hand) {
        person.leave();
        return complain(at_hand.error());
    }

    work::DriveRequest request;
    request.order = options.order;
    request.bench_file = options.bench_file;
    request.conditions = options.conditions;
    request.ledger = options.ledger;
    request.who = options.live.who;
    request.override_ = options.override_;
    request.sequence = *sequence;
    request.seed = options.live.seed.value_or(1);
    request.dry_run = options.live.dry_run;
    request.began =
        work::session_begin(*at_hand, *about, options.order, options.bench_file, time_of_making());
    heed_signals();
    const auto driven =
        work::drive(*at_hand->bench, request, at_hand->person,
                    {[&](const work::LiveEvent& event) { person.take(event, request.began); }});
    person.leave();
    if (!driven) return complain(driven.error());
    if (!options.live.json && !options.live.events) {
        const auto& runs = driven->runs;
        const auto recorded = std::ranges::count(runs, true, &work::DrivenRun::recorded);
        fmt::print("{}\n", wrapped(fmt::format("{} {} recorded, {} aborted, {} of {} places open. {}",
                                               recorded, recorded == 1 ? "run" : "runs",
                                               static_cast<std::ptrdiff_t>(runs.size()) - recorded,
                                               driven->open_after, driven->open_before, driven->ended),
                                   screen, 0));
        if (!driven->may_be_live.empty()) fmt::print("{}\n", wrapped("! " + driven->may_be_live, screen, 2));
        if (!options.live.dry_run)
            fmt::print("Specimens stay charged after the clamps are earthed: earth them before touching.\n");
    }
    if (!driven->may_be_live.empty()) return bad_input;
    return driven->ended.empty() || options.live.dry_run ? ok : some_refused;
}

}  // namespace ebbtide::cli
