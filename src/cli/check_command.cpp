#include <fmt/format.h>

#include <filesystem>

#include "cli/at_the_bench.hpp"
#include "cli/clock.hpp"
#include "cli/commands.hpp"
#include "cli/live_view.hpp"
#include "cli/print.hpp"
#include "ledger/migrations.hpp"
#include "record/json.hpp"
#include "work/bench_check.hpp"
#include "work/documents_to_drive.hpp"
#include "work/ledger_checks.hpp"

namespace ebbtide::cli {
namespace {

/// The record and its recordings, after they are on the disk.
Result<Done> keep_check(const CheckOptions& options, const work::BenchCheckAnswer& checked) {
    auto database = ledger::open_ledger(options.ledger, ledger::Database::Access::write);
    if (!database) return database.error();
    const auto beside = std::filesystem::path(options.bench_file).parent_path();
    const auto added =
        work::add_check(*database, {(beside / checked.file).string(), checked.who, ""}, time_of_writing());
    if (!added) return added.error();
    tell(fmt::format("{}: {} kept, head {}\n", options.ledger, added->check, added->head.sha256));
    return Done{};
}

}  // namespace

int check_bench(const CheckOptions& options) {
    const auto about = work::bench_to_drive(options.bench_file, {});
    if (!about) return complain(about.error());
    AtTheBench person(options.live, options.live.dry_run, "Bench check of " + about->id);
    auto at_hand = person.bench_at_hand(*about);
    if (!at_hand) {
        person.leave();
        return complain(at_hand.error());
    }
    work::BenchCheckRequest request;
    request.bench_file = options.bench_file;
    request.order = options.order;
    request.closing = options.closing;
    request.who = options.live.who;
    request.dry_run = options.live.dry_run;
    request.began =
        work::session_begin(*at_hand, *about, options.order, options.bench_file, time_of_making());
    if (!options.ledger.empty() && !request.dry_run)
        if (const auto opened = ledger::open_ledger(options.ledger, ledger::Database::Access::write); !opened)
            return complain(opened.error());
    heed_signals();
    // With --json the record is printed when it is whole.
    const auto checked =
        work::check_bench(*at_hand->bench, request, at_hand->person, {[&](const work::LiveEvent& event) {
            if (!options.live.json) person.take(event, request.began);
        }});
    person.leave();
    if (!checked) return complain(checked.error());
    if (!options.ledger.empty() && !checked->file.empty())
        if (const auto kept = keep_check(options, *checked); !kept) return complain(kept.error());
    if (options.live.json) {
        fmt::print("{}", record::canonical_text(work::json_of(*checked)));
    } else if (!options.live.events) {
        for (const bench::CheckFigure& figure : checked->figures) fmt::print("  {}\n", figure_line(figure));
        fmt::print("{}\n",
                   wrapped(fmt::format("{} check of {}: {}", checked->closing ? "Closing" : "Opening",
                                       checked->bench, checked->good ? "good" : "failed. " + checked->reason),
                           screen, 2));
        if (checked->good_until) fmt::print("holds until {}\n", iso_text(*checked->good_until));
        if (!checked->file.empty()) fmt::print("{}\n", checked->file);
        if (!checked->may_be_live.empty())
            fmt::print("{}\n", wrapped("! " + checked->may_be_live, screen, 2));
    }
    if (!checked->may_be_live.empty()) return bad_input;
    return checked->good || options.live.dry_run ? ok : fails;
}

}  // namespace ebbtide::cli
