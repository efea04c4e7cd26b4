// Notes are appended and never changed.

#include "work/notes.hpp"

#include <gtest/gtest.h>

#include "support/program.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

const work::Note noted{parse_instant("2026-11-26T09:00:00Z").value(), "2c26b46b", "TO",
                       "Slipped <b>a little</b>;\nline two \"quoted\" \xC3\xA9"};

TEST(Notes, ComeBackAsTheyWereWritten) {
    const TemporaryFolder folder;
    EXPECT_TRUE(work::notes_in(folder.path()).value().empty());
    ASSERT_TRUE(work::add_note(folder.path(), noted).ok());
    const std::string first = bytes_of(folder / work::notes_file);
    work::Note other = noted;
    other.text = "Mounted anew";
    ASSERT_TRUE(work::add_note(folder.path(), other).ok());
    EXPECT_TRUE(bytes_of(folder / work::notes_file).starts_with(first)) << "what stood there stays";
    const auto notes = work::notes_in(folder.path()).value();
    ASSERT_EQ(notes.size(), 2u);
    EXPECT_EQ(notes[0].text, noted.text);
    EXPECT_EQ(notes[0].at, noted.at);
    EXPECT_EQ(notes[0].who, "TO");
    EXPECT_EQ(notes[1].text, "Mounted anew");
}

TEST(Notes, GoOnBehindALineThatALossOfPowerTore) {
    const TemporaryFolder folder;
    ASSERT_TRUE(work::add_note(folder.path(), noted).ok());
    const std::string whole = bytes_of(folder / work::notes_file);
    write_bytes(folder / work::notes_file, whole + whole.substr(0, whole.size() / 2));
    EXPECT_EQ(work::notes_in(folder.path()).value().size(), 1u);
    ASSERT_TRUE(work::add_note(folder.path(), noted).ok());
    EXPECT_EQ(work::notes_in(folder.path()).value().size(), 2u);
}

TEST(Notes, RefuseWhatIsNone) {
    const TemporaryFolder folder;
    work::Note note = noted;
    note.who = "";
    EXPECT_EQ(work::add_note(folder.path(), note).error().where, "who");
    note = noted;
    note.text = std::string(work::longest_note + 1, 'a');
    EXPECT_EQ(work::add_note(folder.path(), note).error().where, "text");
    EXPECT_FALSE(std::filesystem::exists(folder / work::notes_file));
    EXPECT_FALSE(work::add_note(folder / "nowhere", noted).ok());
    write_bytes(folder / work::notes_file, "{\"text\":\"by hand\"}\n");
    EXPECT_EQ(work::notes_in(folder.path()).error().where, "notes.jsonl:1");
}

TEST(Notes, AreNotWrittenThroughALink) {
    const TemporaryFolder folder;
    write_bytes(folder / "elsewhere", "");
    std::filesystem::create_symlink(folder / "elsewhere", folder / work::notes_file);
    EXPECT_FALSE(work::add_note(folder.path(), noted).ok());
    EXPECT_EQ(bytes_of(folder / "elsewhere"), "");
}

}  // namespace
