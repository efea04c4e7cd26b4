#pragma once
// What the compiled fitting peers share: PROGRAM LAW TRACES SAMPLES SUMS. TRACES holds doubles, for every
// trace the start of the search (as many as the law has parameters) and then SAMPLES voltages, a millisecond
// apart. For each line on standard input all traces are fitted once; the answer is "SECONDS SUM": time for
// one fit, sum over the traces of the sums of squares. Each of these goes to the file SUMS, off the clock.

#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <numeric>
#include <string>
#include <vector>

#include "laws.hpp"

namespace ebbtide::speed {

/// Of this process, as in row.hpp.
inline double processor_seconds() {
    timespec at{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &at);
    return static_cast<double>(at.tv_sec) + static_cast<double>(at.tv_nsec) * 1e-9;
}

/// `fit(law, start, y)` returns the sum of squares that was reached.
template <class Law, class Fit>
void take_turns(char** words, Fit fit) {
    const std::size_t samples = std::strtoul(words[3], nullptr, 10), stride = samples + Law::parameters;
    std::ifstream in(words[2], std::ios::binary | std::ios::ate);
    std::vector<double> numbers(static_cast<std::size_t>(in.tellg()) / sizeof(double));
    in.seekg(0).read(reinterpret_cast<char*>(numbers.data()),
                     static_cast<std::streamsize>(numbers.size() * sizeof(double)));
    const auto size = static_cast<Eigen::Index>(samples);
    Law law(Array::LinSpaced(size, 0, static_cast<double>(samples - 1) * 1e-3));
    std::vector<double> sums(numbers.size() / stride);
    char line[16];
    while (std::fgets(line, sizeof line, stdin)) {
        const double began = processor_seconds();
        for (std::size_t i = 0; i < sums.size(); ++i)
            sums[i] = fit(law, &numbers[i * stride], &numbers[i * stride + Law::parameters]);
        const double took = processor_seconds() - began;
        std::printf("%.12f %.17g\n", took / static_cast<double>(sums.size()),
                    std::accumulate(sums.begin(), sums.end(), 0.0));
        std::ofstream(words[4], std::ios::binary)
            .write(reinterpret_cast<const char*>(sums.data()),
                   static_cast<std::streamsize>(sums.size() * sizeof(double)));
        std::fflush(stdout);
    }
}

/// The law named on the command line.
template <template <class> class Peer>
int serve(int count, char** words) {
    if (count != 5) return 2;
    const std::string law = words[1];
    if (law == "two_exponentials") take_turns<TwoExponentials>(words, Peer<TwoExponentials>());
    if (law == "stretched") take_turns<Stretched>(words, Peer<Stretched>());
    return 0;
}

}  // namespace ebbtide::speed
