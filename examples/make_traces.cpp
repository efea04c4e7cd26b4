// Makes the recordings of the example orders: invented specimens, the physics of a sheet in clamps.
//
//     make_traces FOLDER      writes FOLDER/halyard-cloth/recordings/*.csv,
//     FOLDER/film-insulator/recordings/*.csv
//                             and a truth.json beside each folder's order
//
// A sheet between two clamps decays in modes. Rates and weights are those of a two-dimensional model: clamps
// 76 mm apart and 25 mm wide, sensor face 12.7 mm before the sheet, enclosure 50 mm behind (rounded). The
// sensor also sees the clamps: the induced fraction. The reading follows through a first-order lag; noise is
// band-limited and the recorder has steps. Seeded: the same program writes the same files.

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <numbers>
#include <optional>
#include <string>
#include <vector>

namespace {

constexpr std::array rates{1.0, 2.72, 4.41, 6.00};
constexpr std::array weights{1.138, -0.050, -0.030, -0.058};  // at the middle of the sheet; they add up to 1

struct Bench {
    double induced_fraction = 0.11;
    double lag_s = 0.005;
    double charging_rise_s = 0.030;
    double earthing_fall_s = 0.002;
    double noise_V = 7;
    double noise_correlation_s = 0.004;
    double step_V = 0.3052;  // 16 bits over 20 V, 1 V a kilovolt
    double specimen_offset_V = 12;
    double electrode_offset_V = -3;
};

struct Setup {
    std::string folder;
    std::uint64_t seed;
    double rate_Hz;
    int time_places;
    double shutter_closed_s;  // lead-in: the zero
    double charging_s;
    double decay_s;
};

struct Run {
    std::string specimen;
    std::string face;
    int replicate;
    double sign;
    double slowest_mode_s;  // time constant T1
    double accepted;        // steady reading over the clamp voltage
    double slip_s = 0;      // the specimen slips in a clamp this long after charging began; 0: it holds
};

struct Truth {
    double release_s = 0;
    double initial_voltage_V = 0;
    std::array<std::optional<double>, 3> decay_s;  // to 50 %, 1/e, 10 %; absent: not reached in the record
};
constexpr std::array truth_levels{0.5, 1 / std::numbers::e, 0.1};

/// Splitmix64 (Steele, Lea, Flood 2014) and Box-Muller: the same numbers with every standard library.
class Noise {
  public:
    explicit Noise(std::uint64_t seed) : state_(seed) {}
    double uniform() {
        std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ULL);
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
        return (static_cast<double>((z ^ (z >> 31)) >> 11) + 0.5) * 0x1p-53;
    }
    double normal() {
        const double radius = std::sqrt(-2 * std::log(uniform()));
        return radius * std::cos(2 * std::numbers::pi * uniform());
    }

  private:
    std::uint64_t state_;
};

/// The T1 with which the noise-free reading takes decay_s from the release to a tenth of the hold reading.
double slowest_mode_for(double decay_s, double accepted, const Bench& bench) {
    const double above_level = (accepted - bench.induced_fraction) * weights[0] / (0.1 * accepted);
    return (decay_s - bench.earthing_fall_s) / std::log(above_level);
}

std::string stepped_text(double voltage_V, const Bench& bench) {
    const double volts = std::round(voltage_V / bench.step_V) * bench.step_V / 1000;
    const std::string text = fmt::format("{:.4f}", volts);
    return text == "-0.0000" ? "0.0000" : text;
}

/// Appends one run to a recording that has reached `sample` samples.
Truth append(const Run& run, const Setup& setup, const Bench& bench, Noise& noise, std::uint64_t& sample,
             std::string& rows) {
    const double start_s = static_cast<double>(sample) / setup.rate_Hz;
    const double length_s = setup.shutter_closed_s + setup.charging_s + setup.decay_s + 0.5;
    // Hands and relays do not wait for the recorder's clock.
    const double charge_s = setup.shutter_closed_s + 0.02 * noise.uniform();
    const double release_s = charge_s + setup.charging_s + 0.01 * noise.uniform();
    const double clamp_V = run.sign * (5000 + 4 * noise.normal());

    constexpr int substeps = 40;
    const double dt = 1 / (setup.rate_Hz * substeps);
    const auto keep = [dt](double constant_s) { return std::exp(-dt / constant_s); };
    std::array<double, 4> charge{};
    double lagged_V = 0, coloured = noise.normal(), previous_V = 0;
    Truth truth;
    truth.release_s = start_s + release_s;
    const double noise_keep = std::exp(-1 / (setup.rate_Hz * bench.noise_correlation_s));
    const auto samples = static_cast<std::uint64_t>(std::llround(length_s * setup.rate_Hz));
    for (std::uint64_t i = 0; i < samples; ++i) {
        double electrode_V = 0;
        for (int k = 0; k < substeps; ++k) {
            // The last substep ends on the sample.
            const double t =
                static_cast<double>(static_cast<std::int64_t>(i * substeps) + k + 1 - substeps) * dt;
            if (t >= charge_s) electrode_V = clamp_V * -std::expm1(-(t - charge_s) / bench.charging_rise_s);
            if (t >= release_s) electrode_V = clamp_V * std::exp(-(t - release_s) / bench.earthing_fall_s);
            // With one clamp lost the charge has further to go.
            const bool slipped = run.slip_s > 0 && t > charge_s + run.slip_s;
            const double T1 = run.slowest_mode_s * (slipped ? 1.9 : 1);
            const double slipping =
                run.slip_s > 0 ? 0.3 * std::exp(-std::pow((t - charge_s - run.slip_s) / 0.25, 2)) : 0;
            double middle = 0;
            for (std::size_t m = 0; m < 4; ++m) {
                charge[m] = electrode_V + (charge[m] - electrode_V) * keep(T1 / rates[m]);
                middle += weights[m] * charge[m];
            }
            const double reading_V = bench.induced_fraction * electrode_V +
                                     (run.accepted - bench.induced_fraction) * middle * (1 - slipping);
            if (t < release_s) {
                truth.initial_voltage_V = reading_V;
            } else {
                for (std::size_t l = 0; l < truth_levels.size(); ++l) {
                    const double level_V = truth_levels[l] * std::abs(truth.initial_voltage_V);
                    const double above = previous_V * run.sign, now = reading_V * run.sign;
                    if (!truth.decay_s[l] && now <= level_V && t - release_s < setup.decay_s)
                        truth.decay_s[l] = t - release_s - dt * (level_V - now) / (above - now);
                }
            }
            previous_V = reading_V;
            const bool shutter_open = t >= charge_s && t < release_s + setup.decay_s;
            const double seen_V = shutter_open ? reading_V : 0;
            lagged_V = seen_V + (lagged_V - seen_V) * keep(bench.lag_s);
        }
        coloured = noise_keep * coloured + std::sqrt(1 - noise_keep * noise_keep) * noise.normal();
        rows +=
            fmt::format("{:.{}f},{},{}\n", static_cast<double>(sample + i) / setup.rate_Hz, setup.time_places,
                        stepped_text(electrode_V + bench.electrode_offset_V + 2 * noise.normal(), bench),
                        stepped_text(lagged_V + bench.specimen_offset_V + bench.noise_V * coloured, bench));
    }
    sample += samples;
    return truth;
}

std::string number_or_null(const std::optional<double>& value) {
    return value ? fmt::format("{:.5f}", *value) : "null";
}

/// One recording a specimen; runs of one specimen follow each other in `runs`.
bool write_example(const std::filesystem::path& examples, const Setup& setup, const std::vector<Run>& runs) {
    const Bench bench;
    const auto folder = examples / setup.folder / "recordings";
    std::filesystem::create_directories(folder);
    std::string truth_rows;
    for (std::size_t first = 0; first < runs.size();) {
        const std::string& specimen = runs[first].specimen;
        Noise noise(setup.seed + first);
        std::uint64_t sample = 0;
        std::string rows = fmt::format(
            "Laboratory,Tern Point Materials Laboratory\nSpecimen,{}\nMonitors,one volt a kilovolt\n\n"
            "Time (s),Electrode monitor (V),Specimen monitor (V)\n",
            specimen);
        for (; first < runs.size() && runs[first].specimen == specimen; ++first) {
            const Run& run = runs[first];
            const Truth truth = append(run, setup, bench, noise, sample, rows);
            truth_rows += fmt::format(
                "{}  {{\"file\": \"recordings/{}.csv\", \"specimen\": \"{}\", \"face\": \"{}\", "
                "\"polarity\": \"{}\", "
                "\"replicate\": {}, \"release_s\": {:.5f}, \"initial_voltage_V\": {:.2f}, \"decay_50_s\": "
                "{}, "
                "\"decay_1_over_e_s\": {}, \"decay_10_s\": {}}}",
                truth_rows.empty() ? "" : ",\n", specimen, specimen, run.face, run.sign > 0 ? "+" : "-",
                run.replicate, truth.release_s, truth.initial_voltage_V, number_or_null(truth.decay_s[0]),
                number_or_null(truth.decay_s[1]), number_or_null(truth.decay_s[2]));
        }
        std::ofstream out(folder / (specimen + ".csv"), std::ios::binary);
        out << rows;
        if (!out.flush()) return false;
    }
    std::ofstream out(examples / setup.folder / "truth.json", std::ios::binary);
    out << "[\n" << truth_rows << "\n]\n";
    return static_cast<bool>(out.flush());
}

/// Cloth, twelve specimens, both faces; F2 slips in its clamp on the back and is tested again.
std::vector<Run> cloth_runs() {
    const Bench bench;
    struct Row {
        const char* specimen;
        double accepted, front_s, back_s;
    };
    constexpr std::array<Row, 12> rows{{{"W1", 0.955, 0.298, 0.306},
                                        {"W2", 0.951, 0.311, 0.304},
                                        {"W3", 0.958, 0.322, 0.317},
                                        {"F1", 0.949, 0.341, 0.352},
                                        {"F2", 0.953, 0.349, 0.338},
                                        {"F3", 0.946, 0.361, 0.364},
                                        {"W4", 0.957, 0.372, 0.381},
                                        {"W5", 0.950, 0.389, 0.378},
                                        {"W6", 0.952, 0.401, 0.394},
                                        {"F4", 0.944, 0.431, 0.446},
                                        {"F5", 0.948, 0.452, 0.438},
                                        {"F6", 0.941, 0.463, 0.488}}};
    std::vector<Run> runs;
    for (const Row& row : rows) {
        const double front_T1 = slowest_mode_for(row.front_s, row.accepted, bench);
        const double back_T1 = slowest_mode_for(row.back_s, row.accepted, bench);
        const bool slips = std::string(row.specimen) == "F2";
        runs.push_back({row.specimen, "front", 1, 1, front_T1, row.accepted});
        if (slips) runs.push_back({row.specimen, "back", 1, 1, back_T1, row.accepted, 14.2});
        runs.push_back({row.specimen, "back", 1, 1, back_T1, row.accepted});
    }
    return runs;
}

/// Three films: N1 takes no charge, P1 holds it, K1 loses it faster than the bench can tell.
std::vector<Run> film_runs() {
    struct Row {
        const char* specimen;
        double T1_s, accepted;
    };
    constexpr std::array<Row, 3> rows{{{"N1", 2.0, 0.113}, {"P1", 3.9, 0.96}, {"K1", 0.001, 0.97}}};
    std::vector<Run> runs;
    for (const Row& row : rows)
        for (const double sign : {1.0, -1.0})
            for (int replicate = 1; replicate <= 3; ++replicate)
                runs.push_back({row.specimen, "front", replicate, sign, row.T1_s * (1 + 0.01 * replicate),
                                row.accepted});
    return runs;
}

}  // namespace

int main(int count, char** words) {
    if (count != 2) {
        std::cerr << "make_traces FOLDER: writes the recordings of the example orders into FOLDER\n";
        return 2;
    }
    const std::filesystem::path examples = words[1];
    const Setup cloth{"halyard-cloth", 2026'09, 250, 3, 1.0, 20, 2.2};
    const Setup film{"film-insulator", 2026'10, 100, 2, 1.0, 10, 3.2};
    const bool written =
        write_example(examples, cloth, cloth_runs()) && write_example(examples, film, film_runs());
    if (!written) std::cerr << "cannot write into " << examples << '\n';
    return written ? 0 : 2;
}
