package ledger

import (
	"database/sql/driver"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"

	"modernc.org/sqlite"
)

// castagnoli finds every error of up to 32 bits in a row, and all but one of
// four thousand million others.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// rowSum is the checksum of values as SQLite holds them. Kinds and lengths count
// too, so that nothing can move from one value to the next.
func rowSum(values ...driver.Value) (int64, error) {
	var text []byte
	for _, v := range values {
		switch v := v.(type) {
		case nil:
			text = append(text, 'n')
		case int64:
			text = binary.BigEndian.AppendUint64(append(text, 'i'), uint64(v))
		case float64:
			text = binary.BigEndian.AppendUint64(append(text, 'f'), math.Float64bits(v))
		case string:
			text = binary.BigEndian.AppendUint32(append(text, 's'), uint32(len(v)))
			text = append(text, v...)
		case []byte:
			text = binary.BigEndian.AppendUint32(append(text, 'b'), uint32(len(v)))
			text = append(text, v...)
		default:
			return 0, fmt.Errorf("checksum of a row: %T is no value of it", v)
		}
	}
	return int64(crc32.Checksum(text, castagnoli)), nil
}

// partSum is the checksum of a part of the checkpoint under its name.
func partSum(part, data string) int64 {
	sum, _ := rowSum(part, data) // of texts there always is one
	return sum
}

func init() {
	sqlite.MustRegisterDeterministicScalarFunction("row_sum", -1, func(_ *sqlite.FunctionContext, args []driver.Value) (driver.Value, error) {
		return rowSum(args...)
	})
}

// Columns of the tables whose rows carry a checksum.
const (
	tripColumns          = "at, bench, interlock, act, latched, detail, times, last, counted"
	commissioningColumns = "at, what, place, fingerprint, data"
)

// newTripSum is the checksum of a trip that nothing is counted in yet.
const newTripSum = "row_sum(?1, ?2, ?3, ?4, ?5, ?6, ?7, 1, NULL, 0)"

// summed lists those tables with their columns.
var summed = map[string]string{"trips": tripColumns, "commissioning": commissioningColumns}

// damagedRows says which rows of a table fail their checksum.
func damagedRows(table string) string {
	return fmt.Sprintf("%[1]s WHERE sum IS NOT row_sum(id, %[2]s)", table, summed[table])
}
