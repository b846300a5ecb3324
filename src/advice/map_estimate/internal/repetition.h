/// How much neighbouring samples repeat each other: the variance inflation by autocorrelation (estimate.6), one pass.
#pragma once

#include <vector>

namespace fuelwright::advice {

class Repetition {
 public:
  /// longest_memory_s: no lag beyond this is looked at; with samples further apart than it, only lag 1 to 3.
  explicit Repetition(double longest_memory_s) : longest_s_(longest_memory_s) {}

  /// The next standardised residual; a new run starts afresh.
  void add(int run, double residual, double seconds);

  /// VIF = 1 + 2 sum rho_k up to the first rho_k < 0.05 (estimate.6); at least 1.
  double inflation() const;

 private:
  static constexpr int kMostLags = 256;
  double longest_s_;
  int lags_ = 0;  // decided at the first sample
  int run_ = -1;
  std::vector<double> last_;  // ring of the latest residuals of this run
  std::size_t in_run_ = 0;
  std::vector<double> products_;
  std::vector<long> counts_;
  double squares_ = 0;
  long samples_ = 0;
};

}  // namespace fuelwright::advice
