#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <utility>

#include "cli/at_the_bench.hpp"
#include "cli/clock.hpp"
#include "cli/commands.hpp"
#include "cli/live_view.hpp"
#include "cli/print.hpp"
#include "ledger/migrations.hpp"
#include "record/json.hpp"
#include "work/bench_check.hpp"
#include "work/documents_to_drive.hpp"
#include "work/heard_check.hpp"
#include "work/ledger_checks.hpp"
#include "work/live_json.hpp"
#include "work/measure_order.hpp"

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

/// The ledger keeps it, and the person sees what came of it.
int told(const CheckOptions& options, const work::BenchCheckAnswer& checked) {
    if (!options.ledger.empty() && !checked.file.empty())
        if (const auto kept = keep_check(options, checked); !kept) return complain(kept.error());
    if (options.live.json) {
        fmt::print("{}", record::canonical_text(work::json_of(checked)));
    } else if (!options.live.events) {
        for (const bench::CheckFigure& figure : checked.figures) fmt::print("  {}\n", figure_line(figure));
        fmt::print("{}\n",
                   wrapped(fmt::format("{} check of {}: {}", checked.closing ? "Closing" : "Opening",
                                       checked.bench, checked.good ? "good" : "failed. " + checked.reason),
                           screen, 2));
        if (checked.good_until) fmt::print("holds until {}\n", iso_text(*checked.good_until));
        if (!checked.file.empty()) fmt::print("{}\n", checked.file);
        if (!checked.may_be_live.empty()) fmt::print("{}\n", wrapped("! " + checked.may_be_live, screen, 2));
    }
    if (!checked.may_be_live.empty()) return bad_input;
    return checked.good || options.live.dry_run ? ok : fails;
}

/// What is wrong with a ledger is said before the work, not after it.
Result<Done> ledger_opens(const CheckOptions& options) {
    if (options.ledger.empty() || options.live.dry_run) return Done{};
    const auto opened = ledger::open_ledger(options.ledger, ledger::Database::Access::write);
    return opened ? Result<Done>(Done{}) : opened.error();
}

/// What a person sees and presses while a check is heard.
class HeardCheckView {
  public:
    HeardCheckView(const CheckOptions& options, const plan::Bench& bench) : options_(options) {
        if (options.live.json || options.live.events || !LiveScreen::possible()) return;
        watched_.emplace(options.source != "-");
        LiveState& state = watched_->screen.state;
        state.scale = bench.sensor.scale;
        state.title = fmt::format("{} check of {}", options.closing ? "Closing" : "Opening", bench.id);
        state.source = options.source;
        state.phase = "opening: waiting for the first samples";
        if (watched_->keys.there()) state.keys = "[b] back one step  [q] end";
        watched_->screen.draw();
    }

    void take(const work::LiveEvent& event) {
        if (watched_) {
            cli::take(watched_->screen.state, event);
            return std::holds_alternative<work::Frame>(event) ? watched_->screen.draw_when_due()
                                                              : watched_->screen.draw();
        }
        if (options_.live.events) {
            print_json(work::event_line(event));
        } else if (const auto* asked = std::get_if<work::QuestionAsked>(&event)) {
            tell(wrapped("? " + asked->question.words, screen, 2) + "\n");
        } else if (!options_.live.json) {
            lines_.take(event);
        }
    }
    /// False: the person ends it.
    bool attend() {
        if (!watched_) return !asked_to_end();
        while (const auto key = watched_->keys.next()) {
            if (*key == 'q') ended_ = true;
            if (*key == 'b') ++back_;
        }
        watched_->screen.draw_when_due();
        return !ended_ && !asked_to_end();
    }
    std::size_t steps_back() { return std::exchange(back_, 0); }
    void leave() { watched_.reset(); }

  private:
    struct Watched {
        explicit Watched(bool keyboard) : keys(keyboard) {}
        Keys keys;
        LiveScreen screen;
    };
    const CheckOptions& options_;
    DrivingLines lines_{false};
    std::optional<Watched> watched_;
    bool ended_ = false;
    std::size_t back_ = 0;
};

int hear_check(const CheckOptions& options) {
    const auto bench = work::bench_to_hear(options.bench_file);
    if (!bench) return complain(bench.error());
    if (const auto opens = ledger_opens(options); !opens) return complain(opens.error());
    recording::ReadOptions read = options.read;
    work::name_as_bench(read, *bench);
    heed_signals();
    HeardCheckView person(options, *bench);
    auto source =
        work::open_live_source({options.source, options.follow, read, [&] { return person.attend(); }});
    if (!source) {
        person.leave();
        return complain(source.error());
    }
    const work::HeardCheckRequest request{
        options.source,  options.bench_file, *bench,         options.order,
        options.closing, options.live.who,   time_of_making, [&] { return person.steps_back(); }};
    const auto checked =
        work::hear_check(*source, request, {[&](const work::LiveEvent& event) { person.take(event); }});
    person.leave();
    return checked ? told(options, *checked) : complain(checked.error());
}

}  // namespace

int check_bench(const CheckOptions& options) {
    if (!options.source.empty()) return hear_check(options);
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
    if (const auto opens = ledger_opens(options); !opens) return complain(opens.error());
    heed_signals();
    // With --json the record is printed when it is whole.
    const auto checked =
        work::check_bench(*at_hand->bench, request, at_hand->person, {[&](const work::LiveEvent& event) {
            if (!options.live.json) person.take(event, request.began);
        }});
    person.leave();
    if (!checked) return complain(checked.error());
    return told(options, *checked);
}

}  // namespace ebbtide::cli
