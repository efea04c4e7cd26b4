// Files that are no recordings, or hardly: each gets a clear answer.

#include <gtest/gtest.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fstream>
#include <random>
#include <string>

#include "recording/source.hpp"

namespace ebbtide::recording {

namespace {

class HostileFile : public ::testing::Test {
  protected:
    void TearDown() override { ::unlink(path_.c_str()); }

    std::string write(const std::string& bytes) {
        std::ofstream(path_, std::ios::binary) << bytes;
        return path_;
    }
    static Error refused(const std::string& path) {
        auto source = open(path, {});
        if (!source) return source.error();
        Block block;
        for (;;) {
            const Result<bool> more = (*source)->next(block);
            if (!more) return more.error();
            if (!*more) break;
        }
        ADD_FAILURE() << path << " was read: " << (*source)->description().dialect;
        return {};
    }
    void expect_refused(const std::string& bytes, const std::string& what) {
        const Error error = refused(write(bytes));
        EXPECT_EQ(error.code, Fault::bad_input);
        EXPECT_NE(error.what.find(what), std::string::npos) << error.text();
        EXPECT_NE(error.where.find(path_), std::string::npos) << error.text();
        EXPECT_FALSE(error.remedy.empty());
    }

    std::string path_ = testing::TempDir() + "ebbtide_hostile_" + std::to_string(::getpid()) + ".csv";
};

}  // namespace

TEST_F(HostileFile, Empty) {
    expect_refused("", "empty");
    expect_refused("\xEF\xBB\xBF", "empty");
}
TEST_F(HostileFile, OnlyBlankLines) {
    expect_refused("\n\n  \n\r\n", "no columns of numbers");
}
TEST_F(HostileFile, OnlyText) {
    expect_refused("Dear customer,\nplease find attached the 3 recordings.\nYours\n",
                   "no columns of numbers");
    expect_refused("time (s),voltage (V)\n", "no columns of numbers");
    expect_refused("one line without an end", "no columns of numbers");
}
TEST_F(HostileFile, OnlyZeroBytes) {
    expect_refused(std::string(7, '\0'), "zero bytes");
    expect_refused(std::string(3'000'000, '\0'), "");
}
TEST_F(HostileFile, Programs) {
    expect_refused(std::string("\x7F"
                               "ELF\x02\x01\x01\0\0\0\0",
                               11),
                   "a program");
}
TEST_F(HostileFile, Pictures) {
    expect_refused(std::string("\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16), "a picture");
}
TEST_F(HostileFile, Spreadsheets) {
    expect_refused(std::string("PK\x03\x04\x14\0\x06\0", 8), "spreadsheet");
}
TEST_F(HostileFile, RandomBytes) {
    std::mt19937 random(7);
    for (const std::size_t size : {std::size_t{100}, std::size_t{5000}, std::size_t{3'000'000}}) {
        std::string bytes(size, ' ');
        for (char& c : bytes) c = static_cast<char>(random());
        expect_refused(bytes, "");
    }
}
TEST_F(HostileFile, Missing) {
    const Error error = refused("/nonexistent/trace.csv");
    EXPECT_EQ(error.code, Fault::unreadable);
    EXPECT_NE(error.what.find("No such file"), std::string::npos);
}
TEST_F(HostileFile, Directory) {
    const Error error = refused(testing::TempDir());
    EXPECT_EQ(error.code, Fault::unreadable);
    EXPECT_NE(error.what.find("directory"), std::string::npos) << error.text();
}
TEST_F(HostileFile, NotPermitted) {
    write("t,U\n0,1\n");
    ::chmod(path_.c_str(), 0);
    // Root may read everything, so a process without rights asks.
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
        if (::geteuid() == 0 && ::setuid(65534) != 0) ::_exit(2);
        const auto source = open(path_, {});
        const bool told = !source.ok() && source.error().code == Fault::unreadable &&
                          source.error().what.find("Permission denied") != std::string::npos;
        ::_exit(told ? 0 : 1);
    }
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << status;
}
TEST_F(HostileFile, EndlessZeros) {
    EXPECT_FALSE(refused("/dev/zero").what.empty());
}
TEST_F(HostileFile, ALineOfManyMegabytes) {
    expect_refused(std::string(5'000'000, '7'), "longer than 1 MiB");
    const std::string good = "t [s],U [V]\n0,3\n1,2\n2,1\n";
    std::string lines = good;
    for (int i = 3; i < 100'000; ++i) lines += std::to_string(i) + ",1\n";
    const Error error = refused(write(lines + std::string(5'000'000, '7')));
    EXPECT_NE(error.what.find("longer than 1 MiB"), std::string::npos) << error.text();
    EXPECT_NE(error.where.find("line 100002"), std::string::npos) << error.text();
}
TEST_F(HostileFile, ColumnsWithoutAVoltage) {
    expect_refused("time [s],current [A]\n0,1\n1,2\n2,3\n", "no column looks like a voltage");
}
TEST_F(HostileFile, TwoVoltagesAlike) {
    expect_refused("0.0,1.5,2.5\n0.1,1.4,2.6\n0.2,1.3,2.5\n", "2 columns may be the specimen voltage");
}
TEST_F(HostileFile, NothingButUnreadableCells) {
    expect_refused("t [s],U [V]\nnan,nan\nnan,nan\n", "");
}

}  // namespace ebbtide::recording
