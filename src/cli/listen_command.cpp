#include <fmt/format.h>
#include <signal.h>
#include <termios.h>
#include <unistd.h>

#include <chrono>
#include <nlohmann/json.hpp>
#include <optional>

#include "cli/clock.hpp"
#include "cli/live_view.hpp"
#include "cli/recordings.hpp"
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

/// Keys one at a time, unseen, while this lives. Only where standard input is a terminal.
class Keys {
  public:
    explicit Keys(bool wanted) {
        if (!wanted || isatty(STDIN_FILENO) == 0 || ::tcgetattr(STDIN_FILENO, &before_) != 0) return;
        struct termios now = before_;
        now.c_lflag &= ~static_cast<tcflag_t>(ICANON | ECHO);
        now.c_cc[VMIN] = 0;
        now.c_cc[VTIME] = 0;
        there_ = ::tcsetattr(STDIN_FILENO, TCSANOW, &now) == 0;
    }
    ~Keys() {
        if (there_) ::tcsetattr(STDIN_FILENO, TCSANOW, &before_);
    }
    Keys(const Keys&) = delete;
    Keys& operator=(const Keys&) = delete;

    [[nodiscard]] bool there() const { return there_; }
    [[nodiscard]] std::optional<char> next() const {
        char key = 0;
        if (!there_ || ::read(STDIN_FILENO, &key, 1) != 1) return {};
        return key;
    }

  private:
    struct termios before_ {};
    bool there_ = false;
};

void print_line(const nlohmann::json& line) {
    fmt::print("{}\n", line.dump());
    // A program that reads it is waiting for this run.
    std::fflush(stdout);
}

std::string run_heading(const work::RunRecorded& recorded, std::uint64_t number) {
    return fmt::format(
        "run {}  {}  {}{}{}{}\n", number,
        recorded.place ? recorded.place->label() : std::string(plan::sign_of(recorded.run.figures.polarity)),
        recorded.run.run_id.substr(0, 12), recorded.counts ? "" : "  does not count",
        recorded.file.empty() ? "" : "  recorded as " + recorded.file,
        recorded.in_ledger ? ", in the ledger" : "");
}

/// Where nobody watches: what happened, one thing after the other.
class PlainLines {
  public:
    void take(const work::LiveEvent& event) {
        if (const auto* opened = std::get_if<work::SourceOpened>(&event)) {
            fmt::print("{}\n{}", opened->source, indented(wrapped(opened->dialect, screen - 2, 2), 2));
            if (!opened->ceiling.empty()) fmt::print("  {}\n", opened->ceiling);
        } else if (const auto* recorded = std::get_if<work::RunRecorded>(&event)) {
            fmt::print("{}{}", run_heading(*recorded, ++runs_), text_of(recorded->run));
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
class Screen {
  public:
    Screen(const ListenOptions& options, work::LiveOrder* order, const std::optional<plan::Bench>& bench)
        : keys_(options.source != "-"), order_(order) {
        if (bench) state_.scale = bench->sensor.scale;
        state_.title =
            order ? fmt::format("order {}: {}", order->record().order.id, order->record().order.title)
                  : std::string("no order: runs are measured and not kept");
        state_.source = options.source;
        state_.phase = "opening: waiting for the first samples";
        if (keys_.there())
            state_.keys = order ? "[n] [p] next place  [m] move the last run there  [x] set it aside  [r] "
                                  "repeat it  [q] end"
                                : "[q] end";
        follow_order();
        fmt::print("\x1b[2J");
        draw();
    }
    ~Screen() { fmt::print("\n"); }
    Screen(const Screen&) = delete;
    Screen& operator=(const Screen&) = delete;

    void take(const work::LiveEvent& event) {
        cli::take(state_, event);
        if (!std::holds_alternative<work::Frame>(event)) {
            follow_order();
            draw();
        }
    }

    /// Keys, and a fresh picture ten times a second. False: the person ends it.
    bool attend() {
        while (const auto key = keys_.next()) press(*key);
        const auto now = std::chrono::steady_clock::now();
        if (now - drawn_ > std::chrono::milliseconds(100)) draw();
        return !ended_;
    }

  private:
    void press(char key) {
        if (!state_.typing.empty()) return type(key);
        if (key == 'q') ended_ = true;
        if (!order_) return;
        const std::size_t places = order_->places().size(), at = order_->next_place().value_or(0);
        if (key == 'n' && places > 0) report(order_->choose((at + 1) % places));
        if (key == 'p' && places > 0) report(order_->choose((at + places - 1) % places));
        if (key == 'm') correct(order_->move_last(at, time_of_writing()));
        if (key == 'x' || key == 'r') {
            asked_ = key;
            cause_.clear();
            type('\0');
        }
        follow_order();
        draw();
    }

    /// A cause, ended by the return key; the escape key gives it up.
    void type(char key) {
        const bool done = key == '\n' || key == '\r', given_up = key == '\x1b';
        if ((key == '\x7f' || key == '\b') && !cause_.empty()) cause_.pop_back();
        if (static_cast<unsigned char>(key) >= 0x20 && key != '\x7f') cause_ += key;
        state_.typing = fmt::format("cause ({}), return ends, escape gives up: {}_",
                                    asked_ == 'x' ? "set aside" : "repeat", cause_);
        if (done || given_up) state_.typing.clear();
        if (done && asked_ == 'x') correct(order_->set_last_aside(cause_, time_of_writing()));
        if (done && asked_ == 'r') report(order_->retest_last(cause_));
        follow_order();
        draw();
    }

    void correct(const Result<work::RunCorrected>& corrected) {
        if (corrected)
            cli::take(state_, *corrected);
        else
            cli::take(state_, work::Prompt{corrected.error().text()});
    }
    void report(const Result<Done>& done) {
        if (!done) cli::take(state_, work::Prompt{done.error().text()});
    }

    void follow_order() {
        if (!order_) return;
        state_.places = order_->places();
        state_.next = order_->next_place();
    }

    void draw() {
        drawn_ = std::chrono::steady_clock::now();
        std::string all = "\x1b[H";
        for (const std::string& line : live_lines(state_, 23)) all += line + "\x1b[K\r\n";
        fmt::print("{}\x1b[J", all);
        std::fflush(stdout);
    }

    Keys keys_;
    work::LiveOrder* order_;
    LiveState state_;
    std::chrono::steady_clock::time_point drawn_;
    bool ended_ = false;
    char asked_ = 0;
    std::string cause_;
};

}  // namespace

int listen(const ListenOptions& options) {
    recording::ReadOptions read = options.read;
    work::ListenRequest request;
    request.source = options.source;
    request.keep_all = options.keep_all;
    request.now = time_of_writing;
    std::unique_ptr<work::LiveOrder> order;
    if (options.order.empty()) {
        for (const auto& [given, name] : {std::pair{!options.ledger.empty(), "--ledger"},
                                          std::pair{!options.conditions.empty(), "--conditions"},
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
        request.measure = order->measure_request();
        order->name_channels(read);
    }

    stop_in_good_order();
    const bool lines = options.json || options.events;
    std::optional<Screen> watched;
    if (!lines && isatty(STDOUT_FILENO) != 0) watched.emplace(options, order.get(), request.measure.bench);
    PlainLines plain;
    const std::vector<work::LiveSink> sinks{[&](const work::LiveEvent& event) {
        if (options.events) print_line(work::event_line(event));
        if (const auto* recorded = std::get_if<work::RunRecorded>(&event); recorded && options.json)
            print_line(work::run_line(*recorded));
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
    const auto heard = work::listen(*source, request, order.get(), sinks);
    watched.reset();
    if (!heard) return complain(heard.error());
    return heard->broken ? complain(*heard->broken) : ok;
}

}  // namespace ebbtide::cli
