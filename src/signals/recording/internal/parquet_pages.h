/// The bodies of Parquet pages before compression: values, dictionary numbers, levels, and what the
/// statistics say of them.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "signals/recording/internal/parquet_file.h"

namespace fuelwright::signals {

struct Dictionary {
  std::string words;        ///< PLAIN
  std::uint32_t count = 0;  ///< of words
};

struct PlainValues {
  std::string body;
  std::optional<Dictionary> dictionary;  ///< then `body` holds numbers into it
  std::optional<ParquetRange> range;
};

PlainValues plain_values(const std::vector<std::int64_t>& values);
PlainValues plain_values(const std::vector<float>& values);
PlainValues plain_values(const std::vector<double>& values);
PlainValues plain_values(const std::vector<std::string_view>& values);

/// Puts the definition levels of an optional column before its values.
std::string with_levels(const std::vector<std::uint8_t>& present, std::size_t rows,
                        const std::string& body);

}  // namespace fuelwright::signals
