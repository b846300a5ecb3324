/// A Parquet file of flat columns, written row group by row group (Apache Parquet format 2.10, what
/// every reader knows: data pages of version 1, PLAIN or a dictionary, ZSTD, statistics).
///
/// Whole in memory, compressed: the caller writes it to a disk. A file is valid only with its
/// footer, so what is cut off cannot be taken for a shorter recording.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace fuelwright::signals {

enum class ParquetType {
  int64,
  timestamp_us,  ///< INT64, microseconds since 1970 in UTC
  real,          ///< FLOAT
  wide_real,     ///< DOUBLE
  text,          ///< UTF-8, through a dictionary
};

struct ParquetColumn {
  std::string name;
  ParquetType type = ParquetType::real;
  bool optional = false;  ///< may hold gaps
};

/// The cells of one column in one row group, gaps left out.
struct ParquetCells {
  /// [row], 1 where there is a value; empty: everywhere. Only for an optional column.
  std::vector<std::uint8_t> present;
  std::variant<std::vector<std::int64_t>, std::vector<float>, std::vector<double>,
               std::vector<std::string_view>>
      values;
};

/// Statistics of the values of one chunk, as PLAIN bytes; none where there is no number.
struct ParquetRange {
  std::string lowest, highest;
};

using ParquetNotes = std::vector<std::pair<std::string, std::string>>;
class ThriftWriter;

class ParquetFile {
 public:
  explicit ParquetFile(std::vector<ParquetColumn> columns);

  /// Opens the next row group; `columns` calls of add() follow, in order. sorted_by: the column by
  /// which its rows rise.
  void begin_group(std::size_t rows, std::optional<std::size_t> sorted_by);
  void add(const ParquetCells& cells);
  /// The whole file, with `notes` as key-value metadata.
  std::string finish(const ParquetNotes& notes);

 private:
  struct Chunk {
    std::int64_t first_page = 0, data_page = 0;
    std::optional<std::int64_t> dictionary_page;
    std::int64_t values = 0, gaps = 0, plain_bytes = 0, packed_bytes = 0;
    std::optional<ParquetRange> range;
  };
  struct Group {
    std::int64_t rows = 0;
    std::optional<std::size_t> sorted_by;
    std::vector<Chunk> chunks;
  };
  void page(Chunk& chunk, const std::string& body, std::int32_t values, bool dictionary,
            bool by_number);
  static void write_chunk(ThriftWriter& w, const ParquetColumn& column, const Chunk& chunk);
  void write_group(ThriftWriter& w, const Group& group, std::size_t number) const;
  std::string footer(const ParquetNotes& notes) const;

  std::vector<ParquetColumn> columns_;
  std::vector<Group> groups_;
  std::string out_;
};

/// The hybrid of runs and packed bits that holds levels and dictionary numbers; `width` in bits,
/// at most 32.
std::string parquet_runs(const std::vector<std::uint32_t>& values, unsigned width);

}  // namespace fuelwright::signals
