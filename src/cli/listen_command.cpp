#include <fmt/format.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <iterator>
#include <nlohmann/json.hpp>
#include <optional>
#include <utility>

#include "cli/at_the_bench.hpp"
#include "cli/clock.hpp"
#include "cli/live_screen.hpp"
#include "cli/recordings.hpp"
#include "work/before_live.hpp"
#include "work/bench_standing.hpp"
#include "work/listen.hpp"
#include "work/live_json.hpp"

namespace ebbtide::cli {
namespace {

volatile sig_atomic_t stop_asked = 0;

void ask_to_stop(int) {
    stop_asked = 1;
}

/// Ends listening in good order on Ctrl-C or a request to end; a second one ends the program as ever.
void stop_in_good_order() {
    struct sigaction action {};
    action.sa_handler = ask_to_stop;
    action.sa_flags = static_cast<int>(SA_RESETHAND);
    ::sigaction(SIGINT, &action, nullptr);
    ::sigaction(SIGTERM, &action, nullptr);
}

std::string run_text(const work::RunRecorded& recorded, std::uint64_t number) {
    std::string out = fmt::format("run {}  {}  {}{}{}{}\n{}", number, run_label(recorded),
                                  recorded.run.run_id.substr(0, 12),
                                  recorded.counts || recorded.reference ? "" : "  does not count",
                                  recorded.file.empty() ? "" : "  recorded as " + recorded.file,
                                  recorded.in_ledger ? ", in the ledger" : "", text_of(recorded.run));
    for (const bench::CheckFigure& figure : recorded.check) out += "    " + figure_line(figure) + "\n";
    return out;
}

/// Where nobody watches: what happened, one thing after the other.
class PlainLines {
  public:
    void take(const work::LiveEvent& event) {
        if (const auto* opened = std::get_if<work::SourceOpened>(&event)) {
            fmt::print("{}\n{}", opened->source, indented(wrapped(opened->dialect, screen - 2, 2), 2));
            if (!opened->ceiling.empty()) fmt::print("  {}\n", opened->ceiling);
        } else if (const auto* recorded = std::get_if<work::RunRecorded>(&event)) {
            fmt::print("{}", run_text(*recorded, ++runs_));
        } else if (const auto* corrected = std::get_if<work::RunCorrected>(&event)) {
            fmt::print("{} corrected: {}\n", corrected->file,
                       corrected->set_aside.empty() ? corrected->place->label() : corrected->set_aside);
        } else if (const auto* ended = std::get_if<work::SourceEnded>(&event)) {
            fmt::print("{} runs; {}\n", ended->runs, ended->reason);
        } else {
            return;
        }
        std::fflush(stdout);
    }

  private:
    std::uint64_t runs_ = 0;
};

/// What a person sees and presses.
class ListenScreen {
  public:
    ListenScreen(const ListenOptions& options, work::LiveOrder* order,
                 const std::optional<plan::Bench>& bench)
        : keys_(options.source != "-"), order_(order), who_(options.who) {
        LiveState& state = screen_.state;
        if (bench) state.scale = bench->sensor.scale;
        state.title = order
                          ? fmt::format("order {}: {}", order->record().order.id, order->record().order.title)
                          : std::string("no order: runs are measured and not kept");
        state.source = options.source;
        state.phase = "opening: waiting for the first samples";
        if (keys_.there())
            state.keys = order
                             ? "[n] [p] next place  [e] next run without specimen  [m] move the last run to "
                               "the next place  [x] set it aside  [r] repeat it  [q] end"
                             : "[q] end";
        follow_order();
        screen_.draw();
    }

    void take(const work::LiveEvent& event) {
        cli::take(screen_.state, event);
        if (!std::holds_alternative<work::Frame>(event)) screen_.draw();
    }

    /// Keys, and a fresh picture ten times a second. False: the person ends it.
    bool attend() {
        while (const auto key = keys_.next()) press(*key);
        screen_.draw_when_due();
        return !ended_;
    }

  private:
    /// What the key turns the next run into: one kind of reference run after the other, then one of the plan.
    static std::vector<plan::Mounted> after(const std::optional<plan::Mounted>& now) {
        if (!now) return {plan::all_mounted[0]};
        const auto* next = std::ranges::find(plan::all_mounted, *now) + 1;
        if (next == std::end(plan::all_mounted)) return {};
        return {*next};
    }

    void press(char key) {
        if (!screen_.state.typing.empty()) return type(key);
        if (key == 'q') ended_ = true;
        if (!order_) return;
        const std::size_t places = order_->places().size(), at = order_->next_place().value_or(0);
        if (key == 'n' && places > 0) report(order_->choose((at + 1) % places));
        if (key == 'p' && places > 0) report(order_->choose((at + places - 1) % places));
        if (key == 'e') order_->expect_references(after(order_->next_reference()));
        if (key == 'm' || key == 'x' || key == 'r') {
            asked_ = key;
            typed_.clear();
            type('\0');
        }
        follow_order();
        screen_.draw();
    }

    /// Initials, the first time that anything is corrected, then a cause; ended by the return key, given up
    /// by the escape key.
    void type(char key) {
        const bool done = key == '\n' || key == '\r', given_up = key == '\x1b';
        if ((key == '\x7f' || key == '\b') && !typed_.empty()) typed_.pop_back();
        if (static_cast<unsigned char>(key) >= 0x20 && key != '\x7f') typed_ += key;
        if (done && who_.empty() && !typed_.empty()) {
            who_ = std::exchange(typed_, "");
        } else if (done || given_up) {
            screen_.state.typing.clear();
            if (done) correct_for(typed_);
            follow_order();
            screen_.draw();
            return;
        }
        const char* what = who_.empty()    ? "your initials"
                           : asked_ == 'm' ? "cause (move)"
                           : asked_ == 'x' ? "cause (set aside)"
                                           : "cause (repeat)";
        screen_.state.typing = fmt::format("{}, return ends, escape gives up: {}_", what, typed_);
        screen_.draw();
    }

    void correct_for(const std::string& cause) {
        const work::Correction correction{who_, cause, time_of_writing()};
        if (asked_ == 'm') correct(order_->move_last(order_->next_place().value_or(0), correction));
        if (asked_ == 'x') correct(order_->set_last_aside(correction));
        if (asked_ == 'r') report(order_->retest_last(cause));
    }

    void correct(const Result<work::RunCorrected>& corrected) {
        if (corrected)
            cli::take(screen_.state, *corrected);
        else
            cli::take(screen_.state, work::Prompt{corrected.error().text()});
    }
    void report(const Result<Done>& done) {
        if (!done) cli::take(screen_.state, work::Prompt{done.error().text()});
    }

    void follow_order() {
        if (order_)
            cli::take(screen_.state,
                      work::PlanChanged{order_->places(), order_->next_place(), order_->next_reference()});
    }

    Keys keys_;
    LiveScreen screen_;
    work::LiveOrder* order_;
    bool ended_ = false;
    char asked_ = 0;
    std::string who_, typed_;
};

/// What must be so before the first run of an order is heard. What a person answers for is told as `said`.
Result<Done> ready_to_listen(const ListenOptions& options, const record::OrderRecord& documents,
                             std::vector<work::LiveEvent>& said) {
    if (!documents.bench) return Done{};
    if (options.set_up && options.who.empty())
        return Error{Fault::bad_input, "the set-up list is confirmed by nobody", "--set-up",
                     "Say who went through it: --who INITIALS"};
    const work::StartRequest start{options.order,
                                   work::folder_of_bench(options.order + "/" + documents.order.bench_file),
                                   options.who, options.override_, false};
    const auto overridden = work::start_on_check(start, *documents.bench, time_of_writing());
    if (!overridden) return overridden.error();
    if (*overridden) {
        said.emplace_back(work::Prompt{
            fmt::format("Work starts although {}. {}: {}.", **overridden, options.who, options.override_)});
        said.emplace_back(work::CheckOverridden{options.who, options.override_, **overridden, 0});
    }
    const bool somebody = options.source != "-" && !options.json && !options.events && ::isatty(STDIN_FILENO);
    const auto ask = [&](const work::Question& question) {
        return options.set_up ? work::Answer::done
               : somebody     ? ask_on_terminal(question)
                              : work::Answer::stop;
    };
    if (!work::confirm_setup(start, *documents.bench, ask, time_of_writing))
        return Error{Fault::bad_input, "the set-up list of the bench was not confirmed today",
                     documents.bench->id,
                     "Go through the tables [[setup]] of its file at a terminal, which asks for each, or say "
                     "that it was done: --set-up --who INITIALS"};
    return Done{};
}

}  // namespace

int listen(const ListenOptions& options) {
    recording::ReadOptions read = options.read;
    work::ListenRequest request;
    request.source = options.source;
    request.keep_all = options.keep_all;
    request.now = time_of_writing;
    std::unique_ptr<work::LiveOrder> order;
    std::vector<work::LiveEvent> said;
    if (options.order.empty()) {
        for (const auto& [given, name] :
             {std::pair{!options.ledger.empty(), "--ledger"},
              std::pair{!options.conditions.empty(), "--conditions"},
              std::pair{!options.reference.empty(), "--reference"},
              std::pair{!options.override_.empty(), "--override"}, std::pair{options.set_up, "--set-up"},
              std::pair{options.keep_all, "--keep-all"}})
            if (given)
                return complain({Fault::bad_input, "has nothing to keep runs for without an order", name,
                                 "Name its folder with --order"});
        auto measure = measure_request(options.levels, options.bench_file, read);
        if (!measure) return complain(measure.error());
        request.measure = std::move(measure).value();
        request.measure.laws.emplace();
        request.measure.monte_carlo = true;
    } else {
        if (options.levels || !options.bench_file.empty())
            return complain({Fault::bad_input, "an order has its own method and bench", "--levels or --bench",
                             "Leave it out, or change the order"});
        auto opened =
            work::LiveOrder::open({options.order, options.conditions, options.ledger, time_of_writing()});
        if (!opened) return complain(opened.error());
        order = std::move(opened).value();
        if (const auto ready = ready_to_listen(options, order->record(), said); !ready)
            return complain(ready.error());
        order->expect_references(options.reference);
        request.measure = order->measure_request();
        order->name_channels(read);
    }

    stop_in_good_order();
    const bool lines = options.json || options.events;
    std::optional<ListenScreen> watched;
    if (!lines && LiveScreen::possible()) watched.emplace(options, order.get(), request.measure.bench);
    PlainLines plain;
    const std::vector<work::LiveSink> sinks{[&](const work::LiveEvent& event) {
        if (options.events) print_json(work::event_line(event));
        if (const auto* recorded = std::get_if<work::RunRecorded>(&event); recorded && options.json)
            print_json(work::run_line(*recorded));
        if (watched) return watched->take(event);
        if (!lines) plain.take(event);
        if (const auto* notice = std::get_if<work::NoticeSeen>(&event))
            tell(wrapped("notice: " + notice->notice.text, screen, 2) + "\n");
        if (const auto* prompt = std::get_if<work::Prompt>(&event))
            tell(wrapped(prompt->text, screen, 2) + "\n");
    }};
    auto source = work::open_live_source({options.source, options.follow, read, [&] {
                                              return stop_asked == 0 && (!watched || watched->attend());
                                          }});
    if (!source) {
        watched.reset();
        return complain(source.error());
    }
    for (const work::LiveEvent& event : said) sinks.front()(event);
    const auto heard = work::listen(*source, request, order.get(), sinks);
    watched.reset();
    if (!heard) return complain(heard.error());
    return heard->broken ? complain(*heard->broken) : ok;
}

}  // namespace ebbtide::cli
