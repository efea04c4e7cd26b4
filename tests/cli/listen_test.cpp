// 'ebbtide listen' as a person or a script runs it.

#include <fcntl.h>
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <signal.h>

#include <chrono>
#include <set>
#include <thread>

#include "cli/live_view.hpp"
#include "cli/print.hpp"
#include "support/program.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";

std::vector<json> lines_of(const std::string& out) {
    std::vector<json> lines;
    for (std::size_t at = 0; at < out.size();) {
        const std::size_t end = out.find('\n', at);
        // A program that was killed may have left half a line.
        if (end == std::string::npos) break;
        lines.push_back(json::parse(out.substr(at, end - at), nullptr, false));
        EXPECT_FALSE(lines.back().is_discarded());
        at = end + 1;
    }
    return lines;
}

/// The program while it runs.
class Running {
  public:
    explicit Running(const std::vector<std::string>& arguments, bool feed = false) : out_(folder_ / "out") {
        int ends[2] = {-1, -1};
        EXPECT_EQ(::pipe2(ends, O_CLOEXEC), 0);
        child_ = ::fork();
        if (child_ == 0) {
            const int out = ::open(out_.c_str(), O_WRONLY | O_CREAT, 0666);
            const int none = ::open("/dev/null", O_RDWR);
            ::dup2(feed ? ends[0] : none, 0);
            ::dup2(out, 1);
            ::dup2(none, 2);
            std::vector<char*> argv{const_cast<char*>(EBBTIDE_PROGRAM)};
            for (const std::string& argument : arguments) argv.push_back(const_cast<char*>(argument.c_str()));
            argv.push_back(nullptr);
            ::alarm(120);
            ::execv(EBBTIDE_PROGRAM, argv.data());
            ::_exit(127);
        }
        ::close(ends[0]);
        into_ = ends[1];
    }
    ~Running() {
        ::close(into_);
        if (child_ > 0) {
            ::kill(child_, SIGKILL);
            ::waitpid(child_, nullptr, 0);
        }
    }
    Running(const Running&) = delete;
    Running& operator=(const Running&) = delete;

    void feed(const std::string& bytes) const {
        EXPECT_EQ(::write(into_, bytes.data(), bytes.size()), static_cast<ssize_t>(bytes.size()));
    }
    /// Whether so many lines have come out in time.
    [[nodiscard]] bool has_lines(std::size_t count) const {
        const auto start = std::chrono::steady_clock::now();
        do {
            if (lines_of(out()).size() >= count) return true;
            std::this_thread::sleep_for(std::chrono::milliseconds(10));
        } while (std::chrono::steady_clock::now() - start < std::chrono::seconds(30));
        return false;
    }
    void send(int signal) const { ::kill(child_, signal); }
    int wait() {
        int status = 0;
        ::waitpid(child_, &status, 0);
        child_ = 0;
        return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    }
    [[nodiscard]] std::string out() const { return bytes_of(out_); }

  private:
    TemporaryFolder folder_;
    std::string out_;
    pid_t child_ = 0;
    int into_ = -1;
};

/// The example order, made to be heard live.
class LiveOrderFolder {
  public:
    LiveOrderFolder() {
        std::filesystem::create_directory(path());
        std::string order = bytes_of(example + "/order.toml");
        order.resize(order.find("# The runs of a recording"));
        const std::string bench = "bench = \"bench.toml\"\n";
        order.insert(order.find(bench) + bench.size(), "live = \"live.toml\"\n");
        write_bytes(path() + "/order.toml", order);
        std::filesystem::copy(example + "/bench.toml", path() + "/bench.toml");
    }
    [[nodiscard]] std::string path() const { return beside_ / "order"; }
    TemporaryFolder beside_;
};

}  // namespace

TEST(Listen, PrintsOneObjectALineAndRunAsMeasureHasThem) {
    const std::string file = example + "/recordings/W1.csv";
    Call call;
    call.arguments = {"listen", "-", "--json"};
    call.input = bytes_of(file);
    const Ran heard = run(call);
    EXPECT_EQ(heard.exit, 0) << heard.err;
    const auto lines = lines_of(heard.out);
    const json measured = run({"measure", file, "--json"}).json()["files"][0]["runs"];
    ASSERT_EQ(lines.size(), measured.size());
    for (std::size_t i = 0; i < lines.size(); ++i) {
        EXPECT_EQ(lines[i]["schema"], "ebbtide.run/1");
        EXPECT_EQ(lines[i]["recording"].get<std::string>().size(), 64u);
        for (const auto& [key, value] : measured[i].items()) EXPECT_EQ(lines[i][key], value) << key;
    }
}

TEST(Listen, TakesTheFirstRunsForReferenceRunsWhereThatIsSaid) {
    const LiveOrderFolder order;
    const Ran heard = run({"listen", "replay:" + example + "/recordings/W1.csv?pace=0", "--order",
                           order.path(), "--conditions", "dry-1", "--reference", "blank", "--json"});
    EXPECT_EQ(heard.exit, 0) << heard.err;
    const auto lines = lines_of(heard.out);
    ASSERT_EQ(lines.size(), 2u);
    EXPECT_EQ(lines[0]["reference"], "blank");
    EXPECT_TRUE(lines[0]["place"].is_null());
    EXPECT_TRUE(lines[0]["check"].empty());  // the bench has no limits
    EXPECT_TRUE(lines[1]["reference"].is_null());
    EXPECT_EQ(lines[1]["place"]["label"], "W1 front dry-1 + 1");
    // Without an order there is no plan that a run could be left out of.
    EXPECT_EQ(run({"listen", "-", "--reference", "blank"}).exit, 2);
    EXPECT_EQ(run({"listen", "-", "--order", order.path(), "--reference", "cloth"}).exit, 2);
}

TEST(Listen, PrintsARunWhileItsSourceIsStillOpen) {
    const std::string bytes = bytes_of(example + "/recordings/W1.csv");
    Running listening({"listen", "-", "--json"}, true);
    // The first run is over long before three quarters of the recording.
    const std::size_t most = bytes.size() * 3 / 4;
    for (std::size_t at = 0; at < most; at += 4000)
        listening.feed(bytes.substr(at, std::min<std::size_t>(4000, most - at)));
    EXPECT_TRUE(listening.has_lines(1));
}

TEST(Listen, EndsInGoodOrderWhenItIsInterrupted) {
    const std::string bytes = bytes_of(example + "/recordings/W1.csv");
    Running listening({"listen", "-", "--json"}, true);
    for (std::size_t at = 0; at < bytes.size(); at += 4000) listening.feed(bytes.substr(at, 4000));
    EXPECT_TRUE(listening.has_lines(1));
    listening.send(SIGINT);
    EXPECT_EQ(listening.wait(), 0);
    // The second run had fallen, and is told at the end.
    EXPECT_EQ(lines_of(listening.out()).size(), 2u);
}

TEST(Listen, TellsEveryEventALine) {
    const Ran heard = run({"listen", "replay:" + example + "/recordings/W1.csv?pace=0", "--events"});
    EXPECT_EQ(heard.exit, 0) << heard.err;
    std::map<std::string, int> counted;
    for (const json& line : lines_of(heard.out)) {
        EXPECT_EQ(line["schema"], "ebbtide.event/1");
        ++counted[line["event"]];
    }
    EXPECT_EQ(counted["source_opened"], 1);
    EXPECT_EQ(counted["run_recorded"], 2);
    EXPECT_EQ(counted["source_ended"], 1);
    EXPECT_GT(counted["frame"], 100);
    // A file comes in blocks longer than a fall: of some runs all is known at once.
    EXPECT_GE(counted["run_fallen"], 1);
}

TEST(Listen, NamesTheKeyThatAnOrderLacks) {
    const Ran heard = run({"listen", "-", "--order", example, "--conditions", "dry-1"});
    EXPECT_EQ(heard.exit, 2);
    EXPECT_NE(heard.err.find("live = \"live.toml\""), std::string::npos) << heard.err;
    EXPECT_EQ(run({"listen", "-", "--keep-all"}).exit, 2);
    EXPECT_EQ(run({"listen", "tcp://127.0.0.1:1"}).exit, 2);
}

TEST(Listen, KilledAtAnyMomentLeavesEveryRunThatItSaidWasRecorded) {
    const LiveOrderFolder order;
    // Six runs, one recording after the other.
    std::string bytes;
    for (const char* name : {"W1.csv", "W2.csv", "W3.csv"}) {
        const std::string one = bytes_of(example + "/recordings/" + name);
        bytes += bytes.empty() ? one : one.substr(one.find('\n', one.find("Time (s)")) + 1);
    }
    const std::string file = order.beside_ / "day.csv";
    write_bytes(file, bytes);
    const std::vector<std::string> words{
        "listen", "replay:" + file + "?pace=0", "--json", "--order", order.path(), "--conditions", "dry-1"};
    std::set<std::string> said;
    constexpr int kills = 10;
    for (int kill = 0; kill < kills; ++kill) {
        Running listening(words);
        std::this_thread::sleep_for(std::chrono::milliseconds(37 + 61 * kill));
        listening.send(SIGKILL);
        listening.wait();
        for (const json& line : lines_of(listening.out())) {
            said.insert(line["run"].get<std::string>());
            EXPECT_TRUE(std::filesystem::exists(order.path() + "/" + line["file"].get<std::string>()));
        }
        if (!std::filesystem::exists(order.path() + "/live.toml")) continue;
        const std::string live = bytes_of(order.path() + "/live.toml");
        for (const std::string& id : said)
            EXPECT_NE(live.find(id), std::string::npos) << "after kill " << kill;
    }
    Running last(words);
    EXPECT_EQ(last.wait(), 0);
    const std::string live = bytes_of(order.path() + "/live.toml");
    std::size_t runs = 0;
    for (std::size_t at = live.find("[[recording]]"); at != std::string::npos;
         at = live.find("[[recording]]", at + 1))
        ++runs;
    EXPECT_EQ(runs, 6u);
    const Ran judged = run({"judge", order.path(), "--json"});
    EXPECT_TRUE(judged.exit == 12 || judged.exit == 10 || judged.exit == 0) << judged.err;
    std::size_t counting = 0;
    const json judgement = judged.json();
    for (const json& one : judgement["runs"]) counting += one["counts"].get<bool>() ? 1 : 0;
    EXPECT_EQ(counting, 6u);
}

TEST(Listen, ARunThatWasHeardLivesOnInReportAndLedger) {
    const LiveOrderFolder order;
    const std::string ledger = order.beside_ / "lab.ledger", report = order.beside_ / "report.pdf";
    ASSERT_EQ(run({"ledger", "init", "--ledger", ledger}).exit, 0);
    const Ran heard = run({"listen", "replay:" + example + "/recordings/W1.csv?pace=0", "--order",
                           order.path(), "--conditions", "dry-1", "--ledger", ledger});
    EXPECT_EQ(heard.exit, 0) << heard.err;
    EXPECT_NE(heard.out.find("W1 back dry-1 + 1"), std::string::npos) << heard.out;
    EXPECT_NE(heard.out.find("in the ledger"), std::string::npos);
    EXPECT_EQ(run({"ledger", "check", "--ledger", ledger}).exit, 0);
    EXPECT_EQ(run({"ledger", "add", order.path(), "--ledger", ledger}).exit, 0);
    EXPECT_EQ(run({"ledger", "check", "--ledger", ledger}).exit, 0);
    EXPECT_EQ(run({"report", order.path(), "-o", report}).exit, 0);
    const Ran verified = run({"verify", report});
    EXPECT_EQ(verified.exit, 0) << verified.out << verified.err;
}

// ---- the picture ----

namespace {

cli::LiveState picture() {
    cli::LiveState state;
    state.title =
        "order TP-2026-0914: Halyard cloth, electrostatic decay as received and after five launderings";
    state.source = "serial:/dev/ttyUSB0?baud=115200";
    state.ceiling = "115200 baud carry 11520 bytes a second at most, some 576 lines of 20 bytes";
    state.phase = "fallen: the tail is still awaited, leave the bench as it is";
    // A pulse at the end, where a terminal of 80 columns shows it.
    constexpr std::size_t before = cli::LiveState::points_kept - 130;
    for (std::size_t i = 0; i < cli::LiveState::points_kept; ++i) {
        const double value_V = i < before ? 0
                               : i < before + 70
                                   ? 5000
                                   : 5000 * std::exp(-0.2 * static_cast<double>(i - before - 70));
        state.trace.push_back({value_V - 20, value_V + 20});
    }
    for (const char* specimen : {"W1", "W2", "W3", "F1", "F2", "F3", "W4", "W5", "W6", "F4", "F5", "F6"})
        for (const char* face : {"front", "back"})
            for (const auto polarity : {plan::Polarity::positive, plan::Polarity::negative})
                for (int replicate = 1; replicate <= 3; ++replicate)
                    state.places.push_back({{specimen, face, "dry-1", polarity, replicate}, false, 0, false});
    state.places[0].filled = true;
    state.places[0].runs = 1;
    state.places[1].runs = 1;
    state.next = 1;
    state.troubles = {"1234 bytes came faster than they were read and were not kept"};
    state.keys = "[n] [p] next place  [m] move the last run there  [x] set it aside  [r] repeat it  [q] end";
    work::RunRecorded last;
    last.run.figures.levels.emplace_back();
    last.run.figures.levels[0].level = *plan::parse_level("10%");
    last.run.figures.levels[0].status = decay::LevelStatus::measured;
    last.run.figures.levels[0].decay_s = 0.2381;
    last.run.figures.levels[0].u_decay_s = 0.0019;
    last.run.flags.emplace_back(plan::FlagCode::release_slow, "The electrode falls in 12 ms.");
    last.place = state.places[0].key;
    state.last = last;
    state.runs = 1;
    return state;
}

std::string joined(const std::vector<std::string>& lines) {
    std::string out;
    for (const std::string& line : lines) out += line + "\n";
    return out;
}

}  // namespace

TEST(LiveView, FitsATerminalOf80By24WithoutColourOrControl) {
    for (const cli::ScreenSize size : {cli::ScreenSize{24, 80}, {23, 80}, {12, 80}, {60, 211}}) {
        const auto lines = cli::live_lines(picture(), size);
        EXPECT_LE(lines.size(), size.rows);
        for (const std::string& line : lines) {
            EXPECT_LE(cli::seen_columns(line), size.columns) << line;
            for (const char c : line) EXPECT_GE(static_cast<unsigned char>(c), 0x20) << line;
        }
    }
}

TEST(LiveView, SaysWhatIsWhereAndWhatIsNext) {
    const std::string text = joined(cli::live_lines(picture()));
    for (const char* part : {"TP-2026-0914", "11520 bytes a second", "+5020 V", "the tail is still awaited",
                             "W1 front dry-1 + 1", "t(10 %) 0.2381(19) s", "warn release_slow",
                             "next   W1 front dry-1 + 2", "W1 front +●▸·", "1234 bytes", "[q] end"})
        EXPECT_NE(text.find(part), std::string::npos) << part << "\n" << text;
}

TEST(LiveView, AWiderTerminalShowsMoreOfTheTrace) {
    const auto longest = [](std::size_t columns) {
        std::size_t most = 0;
        for (const std::string& line : cli::trace_lines(picture().trace, 6, columns))
            most = std::max(most, cli::seen_columns(line));
        return most;
    };
    EXPECT_EQ(longest(80), 80u);
    EXPECT_EQ(longest(200), 200u);
}

cli::LiveState driven() {
    cli::LiveState state = picture();
    work::SessionBegun begun;
    begun.order = "TP-2026-0914";
    cli::take(state, begun);
    cli::take(state, work::RunBegun{{}, state.places[1].key, "", 1});
    cli::take(state,
              work::PhaseEntered{"charging", "look", "charging: output on, the electrode rises", {}, 2});
    work::LiveGuard shutter{"shutter_open", "shutter read as open", "Check the shutter", true},
        arrived{"arrived", "electrode arrived and steady", "Check the source", false},
        charged{"charged", "charged for as long as the method asks", "", {}};
    cli::take(state, work::GuardsChanged{"charging", "", {shutter, arrived, charged}, 3});
    return state;
}

TEST(LiveView, ShowsWhatADrivenRunWaitsForAndWhatMendsIt) {
    auto state = driven();
    const std::string text = joined(cli::live_lines(state));
    for (const char* part :
         {"runs   W1 front dry-1 + 2", "now    charging: output on", "■ shutter read as open\n",
          "□ electrode arrived and steady: Check the source", "· charged for as long as the method asks"})
        EXPECT_NE(text.find(part), std::string::npos) << part << "\n" << text;
    EXPECT_LE(cli::live_lines(state).size(), 24u);
}

TEST(LiveView, HoldsTheQuestionAndTheTroubleWhereThereIsNoRoomForMore) {
    auto state = driven();
    cli::take(state,
              work::RunAborted{
                  state.places[1].key, "", "", "Stopped while charging: the door. Close it.", {}, false, 4});
    cli::take(state, work::QuestionAsked{{work::Question::Kind::look, "Try this run again?"}, 5});
    for (const std::size_t rows : {24u, 12u}) {
        const std::string text = joined(cli::live_lines(state, {rows, 80}));
        EXPECT_NE(text.find("!      Stopped while charging"), std::string::npos) << text;
        EXPECT_NE(text.find("?      Try this run again?"), std::string::npos) << text;
    }
    cli::take(state, work::QuestionAnswered{{}, work::Answer::done, "TO", 5});
    EXPECT_EQ(joined(cli::live_lines(state)).find("?      "), std::string::npos);
}

TEST(LiveView, ThePlanShowsTheLinesAroundTheNextPlace) {
    auto state = picture();
    state.next = state.places.size() - 1;
    const auto lines = cli::plan_lines(state.places, state.next, {3, 80});
    EXPECT_EQ(lines.size(), 3u);
    EXPECT_NE(joined(lines).find("▸"), std::string::npos);
    state.places.clear();
    EXPECT_TRUE(cli::plan_lines(state.places, {}, {3, 80}).empty());
}

TEST(LiveView, TheTraceHoldsEveryExtreme) {
    std::deque<cli::LiveState::Point> trace(20);
    // All blank but for the bottom row, where zero is.
    const auto flat = cli::trace_lines(trace, 4);
    ASSERT_EQ(flat.size(), 4u);
    trace[10] = {-100, 4900};
    const auto spike = cli::trace_lines(trace, 4);
    EXPECT_NE(spike[0].find("+4900 V"), std::string::npos);
    EXPECT_NE(spike[3].find("-100 V"), std::string::npos);
    EXPECT_NE(spike[0], flat[0]);
    EXPECT_TRUE(cli::trace_lines({}, 4).empty());
}

TEST(LiveView, TheSameTroubleIsToldOnceAndOldOnesMakeRoom) {
    cli::LiveState state;
    for (const char* text : {"a", "b", "a", "c", "d"}) cli::take(state, work::Prompt{text});
    EXPECT_EQ(state.troubles, (std::vector<std::string>{"a", "c", "d"}));
}
