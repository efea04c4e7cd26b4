// Recordings in an export: as HDF5 that other programs read, summed like everything else in it.

#include "work/ledger_export.hpp"

#include <fmt/format.h>

#include <chrono>
#include <random>
#include <thread>

#include "basis/sha256.hpp"
#include "ledger/invented_ledger.hpp"
#include "work/measure.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

namespace fs = std::filesystem;

/// One run: zero, held, a fall of 0.2 s a factor e. Without headings that tell the columns apart.
std::string recording(double held_V) {
    std::string text = "a;b;c\n";
    for (int i = 0; i < 2000; ++i) {
        const double t = 0.001 * i, since = t - 1;
        text += fmt::format("{};{:.1f};{:.1f}\n", t, t < 0.3 || t > 1 ? 0.0 : 5000.0,
                            t < 0.3 ? 0.0 : held_V * (since < 0 ? 1 : std::exp(-since / 0.2)));
    }
    return text;
}

class LedgerExport : public InventedLedger {
  protected:
    /// An order whose record tells how its recording was read.
    void keep_order(const std::string& id, const std::string& bytes, const std::string& file) {
        const std::string sha256 = keep(bytes);
        const json record = {
            {"order",
             {{"recordings",
               {{{"file", file},
                 {"specimen_channel", "c"},
                 {"electrode_channel", ""},
                 {"time_channel", "a"}}}}}},
            {"bench", {{"channels", {{"electrode", "b"}, {"specimen", "b"}}}}},
            {"recordings", {{{"file", file}, {"sha256", sha256}}, {{"file", "gone.csv"}, {"sha256", "0"}}}}};
        ledger::Draft statement = statement_of({.id = id});
        json body = json::parse(statement.body);
        body["record"] = keep(record.dump());
        statement.body = ledger::canonical_line(body).value();
        got(put(statement));
        got(put(run_of(id, "1")));
    }
    void SetUp() override {
        keep_order("TP-1", recording(4900), "one.csv");
        keep_order("TP-2", recording(4500), "two.csv");
        keep_order("TP-3", "this is no recording", "letter.txt");
        keep_order("TP-4", recording(4900), "again.csv");
        got(work::export_ledger(database_, exported()));
    }
    [[nodiscard]] std::string exported() const { return folder_ / "exported"; }
    [[nodiscard]] std::string hdf5_of(const std::string& bytes) const {
        return exported() + "/recordings/" + sha256_hex(bytes) + ".h5";
    }
    static std::map<std::string, std::string> files_of(const std::string& directory) {
        std::map<std::string, std::string> files;
        for (const auto& file : fs::recursive_directory_iterator(directory))
            if (file.is_regular_file())
                files[file.path().lexically_relative(directory)] = bytes_of(file.path());
        return files;
    }
};

TEST_F(LedgerExport, HasEveryRecordingThatIsReadOnce) {
    std::size_t count = 0;
    for (const auto& file : fs::directory_iterator(exported() + "/recordings")) {
        (void)file;
        ++count;
    }
    EXPECT_EQ(count, 2u);
    EXPECT_TRUE(fs::exists(hdf5_of(recording(4900))));
    EXPECT_TRUE(fs::exists(hdf5_of(recording(4500))));
}

TEST_F(LedgerExport, ReadsThemAsTheOrderDid) {
    const auto source = got(recording::open(hdf5_of(recording(4900)), {}));
    ASSERT_EQ(source->description().channels.size(), 2u);
    EXPECT_EQ(source->description().channels[0].heading, "b");
    EXPECT_EQ(source->description().channels[0].quantity, trace::Quantity::electrode_voltage);
    EXPECT_EQ(source->description().channels[1].heading, "c");
    EXPECT_EQ(source->description().channels[1].quantity, trace::Quantity::specimen_voltage);
}

TEST_F(LedgerExport, IsReadByTheToolsOfHdf5) {
    // h5dump of the HDF Group.
    const std::string command = "h5dump -y -w 0 -m %.17g -d /segments/000001/channel_2/value '" +
                                hdf5_of(recording(4500)) + "' > '" + (folder_ / "out") + "' 2>&1";
    EXPECT_EQ(std::system(command.c_str()), 0);
    EXPECT_NE(bytes_of(folder_ / "out").find("4500,"), std::string::npos);
}

TEST_F(LedgerExport, IsTheSameFromTheImportedLedger) {
    auto second = got(ledger::create_ledger(folder_ / "second.ledger"));
    const auto head = got(ledger::import_from(exported(), second));
    EXPECT_EQ(head.sha256, got(ledger::head(database_)).sha256);
    std::this_thread::sleep_for(std::chrono::milliseconds(1100));  // HDF5 would note the second
    got(work::export_ledger(second, folder_ / "again"));
    EXPECT_EQ(files_of(folder_ / "again"), files_of(exported()));
}

TEST_F(LedgerExport, WithAnyOneBitFlippedIsRefused) {
    const auto files = files_of(exported());
    std::vector<std::string> names;
    for (const auto& [name, bytes] : files) names.push_back(name);
    auto database = got(ledger::create_ledger(folder_ / "flipped.ledger"));
    std::mt19937_64 random(29);
    for (int i = 0; i < 300; ++i) {
        // Every file as often as any other, whatever their lengths.
        const std::string& name = names[random() % names.size()];
        std::string bytes = files.at(name);
        const std::size_t bit = random() % (8 * bytes.size());
        bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << (bit % 8)));
        write_bytes(exported() + "/" + name, bytes);
        EXPECT_FALSE(ledger::import_from(exported(), database).ok()) << name << ", bit " << bit;
        write_bytes(exported() + "/" + name, files.at(name));
    }
    EXPECT_TRUE(ledger::import_from(exported(), database).ok()) << "the untouched export";
}

}  // namespace
