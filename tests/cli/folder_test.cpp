// Folders of recordings, sound files and HDF5 on the command line.

#include <gtest/gtest.h>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string recordings = "examples/film-insulator/recordings";

TEST(MeasureFolder, IsAsNamingItsFilesInTheOrderOfCounting) {
    const TemporaryFolder folder;
    for (const char* name : {"run10.csv", "run2.csv", "run1.csv", ".hidden"})
        std::filesystem::copy(std::string(EBBTIDE_SOURCE_DIR "/") + recordings + "/K1-negative-1.csv",
                              folder / name);
    const Ran by_folder = run({"measure", folder.path(), "--json"});
    const Ran by_name =
        run({"measure", folder / "run1.csv", folder / "run2.csv", folder / "run10.csv", "--json"});
    EXPECT_EQ(by_folder.exit, 0) << by_folder.err;
    EXPECT_EQ(by_folder.out, by_name.out);
    EXPECT_EQ(by_folder.json()["files"].size(), 3u);
}
TEST(MeasureFolder, RefusesWhatIsNoRecordingOneByOne) {
    const TemporaryFolder folder;
    std::filesystem::copy(std::string(EBBTIDE_SOURCE_DIR "/") + recordings + "/K1-negative-1.csv",
                          folder / "a.csv");
    write_bytes(folder / "notes.txt", "The bench was dry today.\n");
    std::filesystem::create_directory(folder / "below");
    const Ran ran = run({"measure", folder.path(), "--json"});
    EXPECT_EQ(ran.exit, 3);
    EXPECT_NE(ran.err.find("notes.txt"), std::string::npos) << ran.err;
    ASSERT_EQ(ran.json()["files"].size(), 2u);
    EXPECT_EQ(ran.json()["files"][0]["runs"].size(), 1u);
    EXPECT_TRUE(ran.json()["files"][1]["error"].is_object());
}
TEST(MeasureFolder, ThatHoldsNothingIsRefused) {
    const TemporaryFolder folder;
    const Ran ran = run({"measure", folder.path()});
    EXPECT_EQ(ran.exit, 2);
    EXPECT_NE(ran.err.find("holds no files"), std::string::npos) << ran.err;
}
TEST(ConvertToHdf5, GivesTheSameRunsAsTheOriginal) {
    const TemporaryFolder folder;
    const std::string original = recordings + "/N1-positive-1.csv", made = folder / "N1.h5";
    const Ran converted = run({"convert", original, "-o", made});
    ASSERT_EQ(converted.exit, 0) << converted.err;
    const json was = run({"measure", original, "--json"}).json()["files"][0];
    const json is = run({"measure", made, "--json"}).json()["files"][0];
    ASSERT_FALSE(was["runs"].empty());
    EXPECT_EQ(was["runs"], is["runs"]);
    // Standard input reads the same.
    Call piped;
    piped.arguments = {"measure", "-", "--json"};
    piped.input = bytes_of(made);
    EXPECT_EQ(run(piped).json()["files"][0]["runs"], is["runs"]);
}
TEST(ConvertToHdf5, LeavesNoHalfAFile) {
    const TemporaryFolder folder;
    write_bytes(folder / "no.csv", "nothing\n");
    EXPECT_EQ(run({"convert", folder / "no.csv", "-o", folder / "out.h5"}).exit, 2);
    EXPECT_EQ(run({"convert", recordings + "/N1-positive-1.csv", "-o", folder / "missing/out.h5"}).exit, 2);
    std::size_t files = 0;
    for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator(folder.path())) ++files;
    EXPECT_EQ(files, 1u);
}

}  // namespace
