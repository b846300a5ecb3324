/// How badly each fault is present at a moment.
#pragma once

#include <algorithm>
#include <span>
#include <vector>

#include "car/fault/fault.h"

namespace fuelwright::sim::virtual_car {

class Faults {
 public:
  explicit Faults(std::span<const car::Fault> list) : list_(list.begin(), list.end()) {}
  void at(double seconds) { seconds_ = seconds; }
  /// 0: not there.
  double severity(car::FaultKind kind) const {
    double most = 0;
    for (const car::Fault& f : list_) {
      if (f.kind == kind && seconds_ >= f.from.si) most = std::max(most, f.severity);
    }
    return most;
  }
  /// Minutes times severity since it began: what has grown.
  double grown_min(car::FaultKind kind) const {
    double sum = 0;
    for (const car::Fault& f : list_) {
      if (f.kind == kind) sum += f.severity * std::max(seconds_ - f.from.si, 0.0) / 60;
    }
    return sum;
  }

 private:
  std::vector<car::Fault> list_;
  double seconds_ = 0;
};

}  // namespace fuelwright::sim::virtual_car
