// `ebbtide measure` as a script sees it: JSON on standard output, messages on standard error, exit codes.

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <cmath>
#include <cstring>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string recordings = "examples/halyard-cloth/recordings/";
const std::string one = recordings + "W1.csv";

Ran measured(std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), "measure");
    return run(arguments);
}

void expect_refused(const Ran& ran, int code, const std::string& word) {
    EXPECT_EQ(ran.exit, code) << ran.err;
    EXPECT_NE(ran.err.find(word), std::string::npos) << ran.err;
    EXPECT_EQ(ran.err.find("a fault of the program"), std::string::npos) << ran.err;
}

TEST(MeasureJson, IsTheOnlyThingOnStandardOutput) {
    const Ran ran = measured({one, "--json"});
    EXPECT_EQ(ran.exit, 0);
    EXPECT_EQ(ran.err, "");
    const json document = ran.json();
    EXPECT_EQ(document["schema"], "ebbtide.measure/1");
    ASSERT_EQ(document["files"].size(), 1u);
    EXPECT_EQ(document["files"][0]["file"], one);
    EXPECT_EQ(document["files"][0]["runs"].size(), 2u);
}

TEST(MeasureJson, GivesLevelsAsNumbers) {
    const json levels =
        measured({one, "--levels", "0.5,1/e,0.1", "--json"}).json()["files"][0]["runs"][0]["levels"];
    ASSERT_EQ(levels.size(), 3u);
    EXPECT_EQ(levels[0]["level"].get<double>(), 0.5);
    EXPECT_EQ(levels[1]["level"].get<double>(), 0.36787944117144233);
    EXPECT_EQ(levels[2]["level"].get<double>(), 0.1);
    const std::string text = measured({one, "--levels", "0.5,1/e,0.1", "--json"}).out;
    EXPECT_NE(text.find("\"level\": 0.36787944117144233"), std::string::npos);
    // Other ways to write them.
    const json more = measured({one, "--levels", "10%, 50 % ,2 kV,500V", "--bench",
                                "examples/halyard-cloth/bench.toml", "--json"})
                          .json()["files"][0]["runs"][0]["levels"];
    ASSERT_EQ(more.size(), 4u);
    EXPECT_EQ(more[0]["level"].get<double>(), 0.1);
    EXPECT_EQ(more[2]["level"].get<double>(), 2000);
    EXPECT_EQ(more[2]["level_kind"], "absolute_V");
    EXPECT_EQ(more[3]["level"].get<double>(), 500);
}

TEST(MeasureJson, FindsTheDecayTimesThatTheExampleWasMadeWith) {
    // What the simulated bench that recorded the example knows of its first recording.
    const json truth =
        json::parse(bytes_of(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/recordings.truth.json"));
    ASSERT_EQ(truth["recordings"][0]["file"], "W1.csv");
    const json& made = truth["recordings"][0]["runs"];
    const json runs =
        measured({one, "--bench", "examples/halyard-cloth/bench.toml", "--json"}).json()["files"][0]["runs"];
    ASSERT_EQ(runs.size(), 2u);
    for (std::size_t i = 0; i < 2; ++i) {
        const json& tenth = runs[i]["levels"][2];
        ASSERT_EQ(tenth["status"], "measured");
        EXPECT_NEAR(tenth["decay_s"].get<double>(), made[i]["decay_10_s"].get<double>(),
                    4 * tenth["u_decay_s"].get<double>());
        EXPECT_LT(tenth["u_decay_s"].get<double>(), 0.01);
    }
}

TEST(MeasureInput, NonsenseLevelsAreRefusedWithTheOption) {
    for (const char* levels : {"2", "abc", "", "0", "nan", "-0.1", "1", "0.5,,0.1", "0.5,", "inf V", "-5 V",
                               "1e308 kV", "1/e/2", "0.5;0.1"}) {
        const Ran ran = measured({one, "--levels", levels, "--json"});
        expect_refused(ran, 2, "--levels");
        EXPECT_EQ(ran.out, "") << levels;
    }
}

TEST(MeasureInput, NonsenseSampleIntervalsAreRefusedWithTheOption) {
    for (const char* interval : {"-1", "nan", "0", "inf", "1e400", "abc", "-1e-3", "1e-320", "1e300"})
        expect_refused(measured({one, std::string("--sample-interval=") + interval, "--json"}), 2,
                       "--sample-interval");
}

TEST(MeasureInput, UnknownColumnsAreRefusedWithWhatWasSeen) {
    for (const char* option : {"--specimen", "--electrode", "--marker", "--time"}) {
        const Ran ran = measured({one, option, "no such heading"});
        expect_refused(ran, 2, option);
        EXPECT_NE(ran.err.find("Specimen monitor (V)"), std::string::npos) << ran.err;
        expect_refused(measured({one, option, "99"}), 2, option);
    }
    expect_refused(measured({one, "--time-unit", "fortnight"}), 2, "--time-unit");
    EXPECT_EQ(measured({one, "--no-such-option"}).exit, 2);
    EXPECT_EQ(measured({}).exit, 2);
}

TEST(MeasureInput, MissingFilesAndDirectoriesAreRefusedByName) {
    expect_refused(measured({"no/such/file.csv"}), 2, "no/such/file.csv");
    expect_refused(measured({"examples/halyard-cloth"}), 2, "order.toml");
    expect_refused(measured({one, "--bench", "no/such/bench.toml"}), 2, "no/such/bench.toml");
    expect_refused(measured({one, "--bench", "examples"}), 2, "examples");
    expect_refused(measured({one, "--bench", one}), 2, one);
    expect_refused(measured({""}), 2, "");
}

TEST(MeasureFiles, SomeRefusedAndOthersReadEndsWithThree) {
    const Ran ran = measured({one, "no-such.csv", recordings + "W2.csv", "--json"});
    EXPECT_EQ(ran.exit, 3);
    EXPECT_NE(ran.err.find("no-such.csv"), std::string::npos);
    const json files = ran.json()["files"];
    ASSERT_EQ(files.size(), 3u) << "a refused file keeps its place";
    EXPECT_TRUE(files[0]["error"].is_null());
    EXPECT_TRUE(files[1]["error"]["what"].is_string());
    EXPECT_TRUE(files[1]["recording"].is_null());
    EXPECT_EQ(files[1]["runs"], json::array());
    EXPECT_EQ(files[2]["runs"].size(), 2u);
    const Ran none = measured({"no-such.csv", "neither.csv", "--json"});
    EXPECT_EQ(none.exit, 2);
    EXPECT_EQ(none.json()["files"].size(), 2u);
}

TEST(MeasurePipe, GivesWhatTheFileGives) {
    Call call;
    call.arguments = {"measure", "-", "--json"};
    call.input = bytes_of(std::string(EBBTIDE_SOURCE_DIR "/") + one);
    const Ran piped = run(call);
    EXPECT_EQ(piped.exit, 0) << piped.err;
    json from_pipe = piped.json(), from_file = measured({one, "--json"}).json();
    EXPECT_EQ(from_pipe["files"][0]["file"], "-");
    from_pipe["files"][0]["file"] = from_file["files"][0]["file"];
    EXPECT_EQ(from_pipe, from_file);
    // A real pipe, in small pieces.
    call.program = "/bin/sh";
    call.arguments = {"-c", "dd bs=977 2>/dev/null <\"$1\" | \"$0\" measure - --json", EBBTIDE_PROGRAM, one};
    json in_pieces = run(call).json();
    in_pieces["files"][0]["file"] = from_file["files"][0]["file"];
    EXPECT_EQ(in_pieces, from_file);
}

TEST(MeasureNames, OfAnyBytesAreTaken) {
    const TemporaryFolder folder;
    for (const char* name : {"with space.csv", "two\nlines.csv", "Größe 電圧.csv", "not\xFF\xFEutf8.csv",
                             "quote\"back\\slash.csv", "%s{}{0}.csv", " .csv", "=1+1.csv"}) {
        const std::string path = folder / name;
        std::filesystem::copy_file(EBBTIDE_SOURCE_DIR "/" + one, path);
        const Ran ran = measured({path, "--json"});
        EXPECT_EQ(ran.exit, 0) << name << ran.err;
        EXPECT_EQ(ran.json()["files"][0]["runs"].size(), 2u) << name;
        const Ran text = measured({path});
        EXPECT_EQ(text.exit, 0);
        EXPECT_NE(text.out.find("t(10 %)"), std::string::npos);
    }
    // Names that are text come back as they are.
    EXPECT_EQ(measured({folder / "Größe 電圧.csv", "--json"}).json()["files"][0]["file"],
              folder / "Größe 電圧.csv");
    expect_refused(measured({folder / "not there {}%s.csv"}), 2, "not there {}%s.csv");
}

TEST(MeasureOutput, ThatCannotBeWrittenIsNoSuccess) {
    // /dev/full answers every write with "no space left on device".
    for (const std::vector<std::string>& arguments : {std::vector<std::string>{"measure", one, "--json"},
                                                      {"measure", one},
                                                      {"version"},
                                                      {"methods"},
                                                      {"methods", "sheet-goods-house-method"},
                                                      {"judge", "examples/halyard-cloth"}}) {
        Call call;
        call.arguments = arguments;
        call.out_to = "/dev/full";
        const Ran ran = run(call);
        EXPECT_EQ(ran.exit, 2) << arguments[0];
        EXPECT_NE(ran.err.find("standard output"), std::string::npos) << arguments[0] << ran.err;
        EXPECT_EQ(ran.err.find("a fault of the program"), std::string::npos) << ran.err;
    }
}

TEST(Locale, ChangesNothing) {
    // A locale with decimal commas of our own making: machines without it would otherwise test nothing.
    const TemporaryFolder locales;
    Call make;
    make.program = "/usr/bin/localedef";
    make.arguments = {"-i", "de_DE", "-f", "UTF-8", locales / "de_DE.UTF-8"};
    if (run(make).exit != 0) GTEST_SKIP() << "localedef or the source of de_DE is not installed";
    const auto outputs = [&](const std::string& locale) {
        std::vector<std::string> out;
        for (const std::vector<std::string>& arguments :
             {std::vector<std::string>{"measure", one, "--json"},
              {"measure", one},
              {"measure", one, "--levels", "0.5,500 V", "--json"},
              {"judge", "examples/halyard-cloth"},
              {"report", "examples/halyard-cloth", "-o", locales / "r.html"},
              {"report", "examples/halyard-cloth", "-o", locales / "r.pdf"}}) {
            Call call;
            call.arguments = arguments;
            call.more = {
                {"LOCPATH", locales.path()}, {"LC_ALL", locale}, {"SOURCE_DATE_EPOCH", "1790000000"}};
            out.push_back(run(call).out);
        }
        out.push_back(bytes_of(locales / "r.html"));
        out.push_back(bytes_of(locales / "r.pdf"));
        return out;
    };
    EXPECT_EQ(outputs("de_DE.UTF-8"), outputs("C"));
}

}  // namespace
