// convert as scripts call it: what it writes, what it refuses, and that a failure leaves what was there.

#include <gtest/gtest.h>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string one = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/recordings/W1.csv";

json runs_of(const std::string& file) {
    return run({"measure", file, "--json"}).json()["files"][0]["runs"];
}

TEST(Convert, WritesAFileThatMeasuresTheSame) {
    const TemporaryFolder folder;
    const std::string out = folder / "with space.ebbrec";
    const Ran ran = run({"convert", one, "-o", out});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("23700 samples in 1 segment"), std::string::npos) << ran.out;
    EXPECT_NE(ran.out.find("SHA-256"), std::string::npos);
    EXPECT_EQ(runs_of(out), runs_of(one));
    EXPECT_EQ(runs_of(out).size(), 2u);
}

TEST(Convert, ReadsStandardInputAndTakesTheOptionsOfMeasure) {
    const TemporaryFolder folder;
    Call call;
    call.arguments = {"convert",           "-",  "-o", folder / "x.ebbrec", "--specimen", "2",
                      "--sample-interval", "0.5"};
    call.input = "a,b\n1,10\n2,20\nnan,30\n4,nan\n";
    const Ran ran = run(call);
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("value_missing, line 4"), std::string::npos)
        << "says what it noticed: " << ran.out;
    const json file = run({"measure", folder / "x.ebbrec", "--json"}).json()["files"][0];
    EXPECT_EQ(file["channels"][1]["quantity"], "specimen_voltage");
    EXPECT_EQ(file["notices"].size(), 2u);
}

TEST(Convert, RefusesWhatItCannotReadOrWriteAndLeavesNothing) {
    const TemporaryFolder folder;
    for (const auto& [in, out] : {std::pair{one, folder / "x.txt"},
                                  {one, folder / "x"},
                                  {one, folder / "no/such/folder/x.ebbrec"},
                                  {folder / "none.csv", folder / "x.ebbrec"},
                                  {std::string(EBBTIDE_SOURCE_DIR "/LICENSE"), folder / "x.ebbrec"}}) {
        const Ran ran = run({"convert", in, "-o", out});
        EXPECT_EQ(ran.exit, 2) << in << " to " << out;
        EXPECT_EQ(ran.out, "");
        EXPECT_EQ(ran.err.find("a fault of the program"), std::string::npos) << ran.err;
        EXPECT_TRUE(std::filesystem::is_empty(folder.path())) << out;
    }
    EXPECT_NE(run({"convert", one, "-o", folder / "x.txt"}).err.find(".ebbrec"), std::string::npos);
    EXPECT_EQ(run({"convert", one}).exit, 2);
}

// What lies where the output is written first may be all that is left of an earlier attempt.
TEST(Convert, DestroysNeitherItsInputNorWhatLiesInTheWay) {
    const TemporaryFolder folder;
    ASSERT_EQ(run({"convert", one, "-o", folder / "x.ebbrec"}).exit, 0);
    const std::string whole = bytes_of(folder / "x.ebbrec");
    EXPECT_EQ(run({"convert", folder / "x.ebbrec", "-o", folder / "x.ebbrec"}).exit, 2);
    EXPECT_EQ(bytes_of(folder / "x.ebbrec"), whole);
    write_bytes(folder / "y.ebbrec.part", whole);
    const Ran ran = run({"convert", folder / "y.ebbrec.part", "-o", folder / "y.ebbrec"});
    EXPECT_EQ(ran.exit, 2);
    EXPECT_NE(ran.err.find("y.ebbrec.part"), std::string::npos) << ran.err;
    EXPECT_EQ(bytes_of(folder / "y.ebbrec.part"), whole);
}

TEST(Convert, ToAFolderInPlaceOfTheFileLeavesNothing) {
    const TemporaryFolder folder;
    // A folder in the place of the file.
    std::filesystem::create_directory(folder / "taken.ebbrec");
    EXPECT_EQ(run({"convert", one, "-o", folder / "taken.ebbrec"}).exit, 2);
    EXPECT_FALSE(std::filesystem::exists(folder / "taken.ebbrec.part"));
}

TEST(Measure, OfACutContainerReadsWhatIsWholeAndSaysSo) {
    const TemporaryFolder folder;
    ASSERT_EQ(run({"convert", one, "-o", folder / "x.ebbrec"}).exit, 0);
    const std::string whole = bytes_of(folder / "x.ebbrec");
    write_bytes(folder / "x.ebbrec", whole.substr(0, whole.size() * 3 / 4));
    const Ran ran = run({"measure", folder / "x.ebbrec"});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("torn_tail"), std::string::npos) << ran.out;
}

TEST(RecordOfALargeRecording, NeedsRoomToSetItsRunsAside) {
    // 64 MiB of one recording: the example's, with blank lines that are no samples.
    const TemporaryFolder folder;
    std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth", folder / "order",
                          std::filesystem::copy_options::recursive);
    std::string text = bytes_of(one);
    text += std::string((std::size_t{65} << 20) - text.size(), '\n');
    write_bytes(folder / "order/recordings/W1.csv", text);
    Call call;
    call.arguments = {"report", folder / "order", "-o", folder / "r.pdf"};
    call.more = {{"TMPDIR", folder / "no such folder"}};
    const Ran refused = run(call);
    EXPECT_EQ(refused.exit, 2);
    EXPECT_NE(refused.err.find("TMPDIR"), std::string::npos) << refused.err;
    // With room, the report is small and its figures are worked out again.
    ASSERT_EQ(run({"report", folder / "order", "-o", folder / "r.pdf"}).exit, 0);
    EXPECT_LT(std::filesystem::file_size(folder / "r.pdf"), 20u << 20);
    const Ran verified = run({"verify", folder / "r.pdf"});
    EXPECT_EQ(verified.exit, 0) << verified.out;
    EXPECT_NE(verified.out.find("by runs  recordings/W1.csv"), std::string::npos) << verified.out;
    EXPECT_NE(verified.out.find("taken from the record"), std::string::npos);
}

}  // namespace
