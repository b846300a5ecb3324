#include "advice/sensor_checks/masks.h"

#include <algorithm>

#include "base/contract.h"

namespace fuelwright::advice {
using signals::Quantity;

std::uint8_t Masks::reason(const std::string& why) {
  const auto found = std::ranges::find(reasons_, why);
  if (found != reasons_.end()) return static_cast<std::uint8_t>(found - reasons_.begin() + 1);
  if (reasons_.size() == 255)
    return 255;  // more reasons than a person reads: the last stands for all
  reasons_.push_back(why);
  return static_cast<std::uint8_t>(reasons_.size());
}

void Masks::set(Quantity sensor, int bank, std::size_t first, std::size_t last,
                const std::string& why) {
  last = std::min(last, rows_);
  if (first >= last) return;
  Layer& layer = layers_[{sensor, bank}];
  if (layer.why.empty()) layer.why.assign(rows_, 0);
  const std::uint8_t number = reason(why);
  for (std::size_t i = first; i < last; ++i) {
    if (layer.why[i] == 0) layer.why[i] = number;
  }
}

void Masks::refuse(Quantity sensor, int bank, const std::string& why) {
  Layer& layer = layers_[{sensor, bank}];
  if (layer.refused == 0) layer.refused = reason(why);
}

const Masks::Layer* Masks::layer(Quantity sensor, int bank) const {
  const auto found = layers_.find({sensor, bank});
  return found == layers_.end() ? nullptr : &found->second;
}

const char* Masks::against(std::size_t row, std::span<const Quantity> needed, int bank) const {
  EXPECTS(row < rows_);
  const auto why = [&](Quantity q, int b) -> const char* {
    const Layer* l = layer(q, b);
    if (!l) return nullptr;
    const std::uint8_t number = l->refused ? l->refused : (l->why.empty() ? 0 : l->why[row]);
    return number ? reasons_[number - 1U].c_str() : nullptr;
  };
  if (const char* whole = why(Quantity::time, 1)) return whole;
  for (const Quantity q : needed) {
    // Only the mixture has banks; what there is one of is found under bank 1.
    if (const char* found = why(q, q == Quantity::lambda ? bank : 1)) return found;
  }
  return nullptr;
}

std::optional<std::string> Masks::refused(Quantity sensor, int bank) const {
  const Layer* l = layer(sensor, bank);
  if (!l || l->refused == 0) return std::nullopt;
  return reasons_[l->refused - 1U];
}

std::vector<MaskedSpan> Masks::spans(Quantity sensor, int bank) const {
  std::vector<MaskedSpan> out;
  const Layer* l = layer(sensor, bank);
  if (!l) return out;
  if (l->refused) return {{0, rows_, reasons_[l->refused - 1U]}};
  for (std::size_t i = 0; i < l->why.size(); ++i) {
    if (l->why[i] == 0) continue;
    if (i > 0 && l->why[i] == l->why[i - 1]) {
      ++out.back().last;
    } else {
      out.push_back({i, i + 1, reasons_[l->why[i] - 1U]});
    }
  }
  return out;
}

std::vector<MaskedShare> Masks::shares(Duration row_step) const {
  std::vector<MaskedShare> out;
  for (const auto& [key, l] : layers_) {
    std::vector<long> rows(reasons_.size() + 1, 0);
    if (l.refused) {
      rows[l.refused] = static_cast<long>(rows_);
    } else {
      for (const std::uint8_t w : l.why) ++rows[w];
    }
    for (std::size_t k = 1; k < rows.size(); ++k) {
      if (rows[k] == 0) continue;
      out.push_back({key.first, key.second, reasons_[k - 1], rows[k],
                     static_cast<double>(rows[k]) * row_step});
    }
  }
  return out;
}

}  // namespace fuelwright::advice
