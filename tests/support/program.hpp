#pragma once
// Runs the built program as a person or a script would: arguments, standard input, exit code, both outputs.

#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

namespace ebbtide::testing_support {

inline std::string bytes_of(const std::filesystem::path& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

inline void write_bytes(const std::filesystem::path& path, const std::string& bytes) {
    std::ofstream file(path, std::ios::binary | std::ios::trunc);
    file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    ASSERT_TRUE(file.good()) << path;
}

/// A folder of its own, gone at the end.
class TemporaryFolder {
  public:
    TemporaryFolder() {
        std::string name = (std::filesystem::temp_directory_path() / "ebbtide_test_XXXXXX").string();
        if (!::mkdtemp(name.data())) throw std::runtime_error("no temporary folder");
        path_ = name;
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    [[nodiscard]] std::string operator/(const std::string& name) const { return (path_ / name).string(); }
    [[nodiscard]] std::string path() const { return path_.string(); }

  private:
    std::filesystem::path path_;
};

struct Ran {
    int exit = -1;    ///< exit code; -1 when a signal ended it
    int signal = 0;   ///< that signal
    std::string out;  ///< standard output
    std::string err;  ///< standard error

    [[nodiscard]] nlohmann::json json() const {
        auto document = nlohmann::json::parse(out, nullptr, false);
        EXPECT_FALSE(document.is_discarded()) << "no JSON: " << out.substr(0, 400);
        return document;
    }
};

struct Call {
    std::vector<std::string> arguments;
    std::string input;                        ///< standard input
    std::map<std::string, std::string> more;  ///< environment beside our own
    std::string folder = EBBTIDE_SOURCE_DIR;  ///< where it runs
    std::string out_to;                       ///< a device for standard output instead of a file
    std::string program = EBBTIDE_PROGRAM;
    bool nobody = false;  ///< without the rights of root
};

inline Ran run(const Call& call) {
    const TemporaryFolder folder;
    const std::string in = folder / "in", out = folder / "out", err = folder / "err";
    write_bytes(in, call.input);
    const pid_t child = ::fork();
    if (child == 0) {
        const auto onto = [](const std::string& path, int flags, int descriptor) {
            const int file = ::open(path.c_str(), flags, 0666);
            if (file < 0 || ::dup2(file, descriptor) < 0) ::_exit(126);
        };
        onto(in, O_RDONLY, 0);
        onto(call.out_to.empty() ? out : call.out_to, O_WRONLY | O_CREAT, 1);
        onto(err, O_WRONLY | O_CREAT, 2);
        for (const auto& [name, value] : call.more) ::setenv(name.c_str(), value.c_str(), 1);
        if (::chdir(call.folder.c_str()) != 0) ::_exit(126);
        if (call.nobody && ::geteuid() == 0 && ::setuid(65534) != 0) ::_exit(126);
        ::alarm(120);  // a program that hangs is ended by a signal, which the test sees
        std::vector<char*> argv{const_cast<char*>(call.program.c_str())};
        for (const std::string& argument : call.arguments)
            argv.push_back(const_cast<char*>(argument.c_str()));
        argv.push_back(nullptr);
        ::execv(call.program.c_str(), argv.data());
        ::_exit(127);
    }
    Ran ran;
    int status = 0;
    EXPECT_EQ(::waitpid(child, &status, 0), child);
    if (WIFEXITED(status)) ran.exit = WEXITSTATUS(status);
    if (WIFSIGNALED(status)) ran.signal = WTERMSIG(status);
    ran.out = bytes_of(out);
    ran.err = bytes_of(err);
    return ran;
}

inline Ran run(std::vector<std::string> arguments) {
    Call call;
    call.arguments = std::move(arguments);
    return run(call);
}

}  // namespace ebbtide::testing_support
