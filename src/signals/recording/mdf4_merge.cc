#include "signals/recording/internal/mdf4_merge.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <queue>
#include <tuple>

namespace fuelwright::signals::mdf4 {
namespace {

// The next stamp of a group.
struct Head {
  std::size_t epoch = 0;
  double time_s = 0;
  std::size_t group = 0;
  std::size_t index = 0;

  std::tuple<std::size_t, double, std::size_t> key() const {
    return {epoch, time_s, group};
  }  // (mdf4.3)
  friend bool operator>(const Head& a, const Head& b) { return a.key() > b.key(); }
};

// Moves to the first finite stamp from `index` on; false at the end.
bool settle(Head& head, const std::vector<double>& stamps) {
  while (head.index < stamps.size() && !std::isfinite(stamps[head.index])) ++head.index;
  if (head.index == stamps.size()) return false;
  const double t = stamps[head.index];
  if (t < head.time_s) ++head.epoch;
  head.time_s = t;
  return true;
}

}  // namespace

TimeBase merge(const std::vector<std::vector<double>>& stamps_s, std::size_t most) {
  TimeBase out;
  std::priority_queue<Head, std::vector<Head>, std::greater<>> heads;
  for (std::size_t g = 0; g < stamps_s.size(); ++g) {
    out.row_of.emplace_back(stamps_s[g].size(), kNoRow);
    Head head{0, -HUGE_VAL, g, 0};
    if (settle(head, stamps_s[g])) heads.push(head);
  }
  std::vector<Head> together;
  std::vector<std::size_t> epochs;
  while (!heads.empty() && out.time_s.size() <= most) {
    const Head first = heads.top();
    together.clear();
    while (!heads.empty() && heads.top().epoch == first.epoch &&
           heads.top().time_s == first.time_s) {
      together.push_back(heads.top());
      heads.pop();
    }
    const auto row = static_cast<std::uint32_t>(out.time_s.size());
    out.time_s.push_back(first.time_s);
    for (Head& head : together) {
      out.row_of[head.group][head.index++] = row;
      if (settle(head, stamps_s[head.group])) {
        heads.push(head);
      } else {
        epochs.push_back(head.epoch);
      }
    }
  }
  out.falls_differ = std::ranges::any_of(epochs, [&](std::size_t e) { return e != epochs[0]; });
  return out;
}

}  // namespace fuelwright::signals::mdf4
