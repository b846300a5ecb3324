/// Masks: which rows of which sensor an estimate may use, and why not the others.
///
///   const Masks& masks = report.masks;
///   if (const char* why = masks.against(row, needed)) set_aside(why); else use(row);
///   if (masks.refused(Quantity::map)) say(*masks.refused(Quantity::map));
///
/// Findings set them (a stuck stretch, a spike, the row after a gap), and so does the driving: rows
/// standing or starting, cold, in a fuel cut or just after it teach nothing.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/units/quantity.h"
#include "signals/channels/quantity.h"

namespace fuelwright::advice {

/// Rows [first, last) of one sensor that may not be used.
struct MaskedSpan {
  std::size_t first = 0, last = 0;
  std::string why;
};

/// What was masked for one reason.
struct MaskedShare {
  signals::Quantity sensor = signals::Quantity::other;  ///< `time` stands for whole rows
  int bank = 1;
  std::string why;
  long rows = 0;
  Duration seconds{};
};

class Masks {
 public:
  explicit Masks(std::size_t rows = 0) : rows_(rows) {}

  /// Quantity::time masks the row for every use. The first reason given to a row stays. Rows
  /// beyond the end are cut off.
  void set(signals::Quantity sensor, int bank, std::size_t first, std::size_t last,
           const std::string& why);
  /// All of it, for good.
  void refuse(signals::Quantity sensor, int bank, const std::string& why);

  /// The reason against using these sensors in that row, nullptr if there is none.
  const char* against(std::size_t row, std::span<const signals::Quantity> needed,
                      int bank = 1) const;
  const char* against(std::size_t row, std::initializer_list<signals::Quantity> needed,
                      int bank = 1) const {
    return against(row, std::span(needed.begin(), needed.size()), bank);
  }
  bool usable(std::size_t row, std::initializer_list<signals::Quantity> needed,
              int bank = 1) const {
    return against(row, needed, bank) == nullptr;
  }
  /// The reason for which a sensor is refused as a whole.
  std::optional<std::string> refused(signals::Quantity sensor, int bank = 1) const;

  /// Stretches of one sensor in order, neighbours of one reason joined.
  std::vector<MaskedSpan> spans(signals::Quantity sensor, int bank = 1) const;
  /// By sensor and reason; `row_step` turns rows into seconds (0: unknown).
  std::vector<MaskedShare> shares(Duration row_step) const;
  std::size_t rows() const { return rows_; }

 private:
  struct Layer {
    std::vector<std::uint8_t> why;  // [row], 0: usable; empty: all usable
    std::uint8_t refused = 0;
  };
  std::uint8_t reason(const std::string& why);
  const Layer* layer(signals::Quantity sensor, int bank) const;

  std::size_t rows_;
  std::map<std::pair<signals::Quantity, int>, Layer> layers_;
  std::vector<std::string> reasons_;
};

}  // namespace fuelwright::advice
