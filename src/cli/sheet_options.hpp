#pragma once
// Options of the commands on sheets: infer, predict, calibrate-fixture; main.cpp has the others.

#include "cli/commands.hpp"

namespace CLI {
class App;
}

namespace ebbtide::cli {

/// Each adds its command, which sets `code` when it is called, and returns it for the options of reading.
/// `options` outlives the parsing.
CLI::App* add_infer_command(CLI::App& app, InferOptions& options, int& code);
CLI::App* add_predict_command(CLI::App& app, PredictOptions& options, int& code);
CLI::App* add_calibrate_fixture_command(CLI::App& app, CalibrateFixtureOptions& options, int& code);

}  // namespace ebbtide::cli
