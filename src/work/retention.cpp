#include "work/retention.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "basis/sha256.hpp"
#include "recording/container_writer.hpp"

namespace ebbtide::work {
namespace {

Error no_room(const std::string& folder, int cause) {
    return {Fault::unreadable,
            std::string("the runs of a large recording cannot be set aside: ") + std::strerror(cause), folder,
            "Make room there, or name another folder in TMPDIR"};
}

/// Writes until there is no more room, and hashes what it wrote.
class Spool final : public recording::ByteSink {
  public:
    Spool(int file, std::string folder, std::uint64_t room)
        : file_(file), folder_(std::move(folder)), room_(room) {}
    ~Spool() override { ::close(file_); }
    Spool(const Spool&) = delete;
    Spool& operator=(const Spool&) = delete;

    Result<Done> write(std::string_view bytes) override {
        if (given_up_) return Done{};
        if (bytes.size() > room_ - size_) {
            given_up_ = true;
            size_ = 0;
            if (::ftruncate(file_, 0) != 0) return no_room(folder_, errno);
            return Done{};
        }
        hash_.add(bytes);
        while (!bytes.empty()) {
            const ssize_t wrote = ::write(file_, bytes.data(), bytes.size());
            if (wrote < 0 && errno == EINTR) continue;
            if (wrote < 0) return no_room(folder_, errno);
            bytes.remove_prefix(static_cast<std::size_t>(wrote));
            size_ += static_cast<std::uint64_t>(wrote);
        }
        return Done{};
    }
    // It need not outlive this process.
    Result<Done> sync() override { return Done{}; }

    [[nodiscard]] Result<std::string> bytes() const {
        std::string out(size_, '\0');
        for (std::size_t at = 0; at < out.size();) {
            const ssize_t got = ::pread(file_, out.data() + at, out.size() - at, static_cast<off_t>(at));
            if (got < 0 && errno == EINTR) continue;
            if (got <= 0) return no_room(folder_, got < 0 ? errno : EIO);
            at += static_cast<std::size_t>(got);
        }
        return out;
    }
    [[nodiscard]] bool given_up() const { return given_up_; }
    [[nodiscard]] std::uint64_t size() const { return size_; }
    [[nodiscard]] std::string sha256() { return hash_.hex(); }

  private:
    int file_;
    std::string folder_;
    std::uint64_t room_, size_ = 0;
    bool given_up_ = false;
    Sha256 hash_;
};

class SpooledRuns final : public KeptRunsFile {
  public:
    explicit SpooledRuns(std::unique_ptr<Spool> spool)
        : spool_(spool.get()), writer_(std::move(spool), true) {}
    [[nodiscard]] Result<Done> describe(const recording::Description& description) {
        return writer_.describe(description);
    }
    Result<Done> keep(const recording::Block& run) override {
        return spool_->given_up() ? Done{} : writer_.block(run);
    }
    Result<Done> finish(const record::RecordingRecord& recording) override {
        const auto finished = writer_.finish({recording.sha256, recording.bytes, {}, recording.notices});
        if (finished && !spool_->given_up()) sha256_ = spool_->sha256();
        return finished;
    }
    bool given_up() const override { return spool_->given_up(); }
    std::uint64_t size() const override { return spool_->size(); }
    std::string sha256() const override { return sha256_; }
    Result<std::string> bytes() const override { return spool_->bytes(); }

  private:
    Spool* spool_;  // the writer's
    recording::ContainerWriter writer_;
    std::string sha256_;
};

}  // namespace

std::string kept_runs_name(const std::string& recording, std::size_t occurrence) {
    return recording + (occurrence > 1 ? fmt::format(".{}", occurrence) : "") +
           std::string(recording::container::kept_runs_ending);
}

Result<std::shared_ptr<KeptRunsFile>> KeptRunsFile::create(const recording::Description& description,
                                                           std::uint64_t room) {
    std::error_code fault;
    const std::string folder = std::filesystem::temp_directory_path(fault).string();
    if (fault) return no_room("the folder of temporary files", ENOENT);
    std::string path = (std::filesystem::path(folder) / "ebbtide_runs_XXXXXX").string();
    const int file = ::mkostemp(path.data(), O_CLOEXEC);
    if (file < 0) return no_room(folder, errno);
    ::unlink(path.c_str());
    auto runs = std::make_shared<SpooledRuns>(std::make_unique<Spool>(file, folder, room));
    const auto described = runs->describe(description);
    if (!described) return described.error();
    return std::shared_ptr<KeptRunsFile>(std::move(runs));
}

}  // namespace ebbtide::work
